//! Sets an annual report as a PDF: the report's JSON in, the file out. It is a package and a program
//! of its own, because what it is made with takes long to compile; the service starts it as a child
//! with limits of time and memory, and goes on without it.
//!
//! The file is PDF/A-3a (ISO 19005-3: to be kept, with its structure) and PDF/UA-1 (ISO 14289-1: to be
//! read aloud), and carries the very JSON from which it was made. The same JSON gives the same bytes:
//! nothing is asked of the clock or the disk, and the letters are those that the program brings along.
//!
//! * [`world`]: all that the typesetter may see;
//! * [`letters`]: what stands for letters that it has no shapes for;
//! * [`pdf`](mod@pdf): the report as a file.

pub mod world;

pub mod letters;

pub mod pdf;

pub use pdf::{Unset, pdf};
