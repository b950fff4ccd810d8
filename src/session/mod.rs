//! Groups frames into sessions. Knows no sky.
