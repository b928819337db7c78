//! What a job needs, and which measured set-ups meet it.
