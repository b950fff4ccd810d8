//! Where the tripod stood.
