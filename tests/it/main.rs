//! One test binary; each module mirrors a room of `src/`.

mod reading; // number texts against the standard library's parser
