//! The pages are compiled in as data; a changed file must be compiled in again.
fn main() {
    println!("cargo::rerun-if-changed=../../clients/tankside");
}
