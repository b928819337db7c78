//! Whatever is done, in whatever order: the notebook answers and holds what the plain model answers and holds.

use notebook::{Notebook, NotebookError};
use proptest::collection::vec;
use proptest::prelude::*;

use crate::model::Model;
use crate::operations::{Operation, operation};

/// What is done in one go.
#[derive(Debug, Clone)]
enum Step {
    One(Box<Operation>),
    /// Several as one; kept, or given up at the end.
    Group(Vec<Operation>, bool),
    /// The program ends and is started again.
    Reopen,
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        30 => operation().prop_map(|operation| Step::One(Box::new(operation))),
        3 => (vec(operation(), 0..8), any::<bool>()).prop_map(|(group, kept)| Step::Group(group, kept)),
        1 => Just(Step::Reopen),
    ]
}

/// Does the same to both; single refusals inside a group do not end it.
fn group(book: &mut Notebook, model: &mut Model, operations: &[Operation], kept: bool) {
    let mut trial = model.clone();
    let done = book.atomically(|book| {
        for operation in operations {
            assert_eq!(operation.apply(book), trial.apply(operation), "{operation:?}");
        }
        if kept { Ok(()) } else { Err(NotebookError::Blank { field: "given up" }) }
    });
    assert_eq!(done.is_ok(), kept);
    if kept {
        *model = trial;
    }
}

/// Does all steps to a notebook and to the model, and compares every answer and, at the end, everything kept.
fn run(mut book: Notebook, reopen: impl Fn(Notebook) -> Notebook, steps: &[Step]) {
    let mut model = Model::default();
    for step in steps {
        match step {
            Step::One(operation) => assert_eq!(operation.apply(&mut book), model.apply(operation), "{operation:?}"),
            Step::Group(operations, kept) => group(&mut book, &mut model, operations, *kept),
            Step::Reopen => {
                book = reopen(book);
                model.assert_same(&book);
            }
        }
    }
    model.assert_same(&book);
}

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(cases(testkit::short_or_long(100, 400)))]

    #[test]
    fn in_memory_the_notebook_does_as_the_model_does(steps in vec(step(), 1..120)) {
        run(Notebook::in_memory().unwrap(), |book| book, &steps);
    }
}

proptest! {
    // Every change waits for the disk here: few cases.
    #![proptest_config(cases(25))]

    #[test]
    fn in_a_file_the_notebook_does_as_the_model_does(steps in vec(step(), 1..80)) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notebook");
        let reopen = |book| {
            drop(book);
            Notebook::open(&path).unwrap()
        };
        run(Notebook::open(&path).unwrap(), reopen, &steps);
    }
}
