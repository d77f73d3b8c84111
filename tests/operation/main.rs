//! What whoever runs the servers is given works: images, Compose file, certificates. Outside source: common practice.

mod compose;
mod composed;
