//! From words to a predicate. Never sees a connection.
