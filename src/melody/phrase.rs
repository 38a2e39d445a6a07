//! Where a phrase ends and a breath can be taken.
