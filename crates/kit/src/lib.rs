//! The drawer: the kit file, what fits what, and the train that a choice of parts makes.
