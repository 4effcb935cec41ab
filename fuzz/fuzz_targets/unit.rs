#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| solefolio_fuzz::bodies::unit(data));
