//! Typed client: deadlines, retries, streams that resume.
