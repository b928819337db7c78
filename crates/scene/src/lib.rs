//! Pictures whose truth is known: edges, rulers and specimens through a known transfer function.
