//! The gRPC edge: conversions, statuses, streams.
