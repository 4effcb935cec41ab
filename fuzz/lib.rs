//! What the fuzz targets check, shared with the ordinary tests, which run it over
//! the kept corpus (`tests/fuzz_corpus.rs`).

pub mod bodies;
