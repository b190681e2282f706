//! The library and its binary, from outside.

mod bad_input;
