use browser::{Failure, House};

mod bench;
mod log;
mod side;
mod viewer;
mod whole_way;

/// One after another over one notebook: the example's frames are drawn once, which is most of the work.
#[tokio::test]
async fn the_example_is_used_from_end_to_end() -> Result<(), Failure> {
    let mut house = House::open()?;
    whole_way::from_the_example_to_the_verdict(&mut house).await?;
    log::a_roll_is_logged_with_the_connection_cut_and_restored(&house).await?;
    bench::rays_go_through_a_set_up_and_a_typed_table(&house).await
}
