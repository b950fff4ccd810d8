//! From card to record: reads a dump, never writes it.
