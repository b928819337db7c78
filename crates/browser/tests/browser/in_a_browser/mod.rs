mod bench;
mod log;
mod side;
mod viewer;
mod whole_way;
