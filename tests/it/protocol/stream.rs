//! What holds for any stream of any built-in format.
