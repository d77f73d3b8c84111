//! The published contract leadhand.v1 and its generated types.
