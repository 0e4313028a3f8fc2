//! The wire: frames in and out, and the service they are for.

pub mod frames;
pub mod ordered;
pub mod pump;
pub mod text;
