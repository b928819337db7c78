//! Who does what next while a pyramid is made.
//!
//! One pass over the file, shared by all cores. The kinds of work are: to decode a block of rows (strips or a row of
//! tiles), to paint a part of them on all levels that it reaches by itself, and to compress a tile. Whoever is free
//! takes what is nearest to the end, so that memory is given back before more is taken; new blocks are decoded only while
//! what waits to be painted takes less than [`MAX_WAITING`]. A file that can only be decoded from the top has a reader of
//! its own, which waits in the same way.
//!
//! Held at any time are so many decoded rows, for each level one band of tiles that fills and one that is compressed, and
//! for each worker one part and one tile.

use std::collections::{BTreeMap, VecDeque};
use std::ops::{ControlFlow, Range};
use std::path::Path;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use planes::Region;

use super::jpeg::Jpeg;
use super::level::{Band, Cut, Levels, PART, Painted, Shape, cuts};
use super::paint::{Painter, Scratch};
use super::tile_name;
use crate::error::{Fault, ImagingError};
use crate::scan::Scan;
use crate::source::{Source, whole};

/// Most bytes of decoded rows that wait to be painted, unless a single block takes more.
const MAX_WAITING: u64 = 64 << 20;
/// Most threads at work: each holds a part and a tile.
const MAX_WORKERS: usize = 16;
/// How often the caller is asked whether to go on.
const PATIENCE: Duration = Duration::from_millis(50);

/// Everything that does not change while work goes on.
struct Plan<'a> {
    painter: Painter,
    jpeg: Jpeg,
    shape: Shape,
    scan_path: &'a Path,
    folder: &'a Path,
    /// Words of a stored row.
    row: usize,
    /// Rows of a block when blocks can be decoded apart from each other.
    block: Option<u32>,
}

/// Decoded rows.
struct Block {
    first: u32,
    samples: Vec<u16>,
}

enum Job {
    Decode(Range<u32>),
    Paint(Cut, Vec<Arc<Block>>),
    Tile(Arc<Band>, Cut),
}

/// What has been done, and what waits.
struct State {
    /// First row that nobody has begun to decode.
    next_block: u32,
    /// Rows that are decoded without a gap.
    decoded: u32,
    blocks: BTreeMap<u32, Arc<Block>>,
    /// Bytes of rows that are being decoded or wait to be painted.
    waiting: u64,
    parts: VecDeque<Cut>,
    /// Parts that are painted before their turn, by their first row.
    early: BTreeMap<u32, Painted>,
    /// Rows that are painted without a gap.
    painted: u32,
    levels: Levels,
    tiles: VecDeque<(Arc<Band>, Cut)>,
    /// Workers that are at it.
    busy: usize,
    failed: Option<ImagingError>,
}

impl State {
    /// Whether so many bytes of rows may be added. When nobody has anything to do they must be: what waits is then the
    /// beginning of a part, and needs what comes next.
    fn has_room(&self, bytes: u64) -> bool {
        let part_ready = self.parts.front().is_some_and(|part| part.end() <= self.decoded);
        let idle = self.busy == 0 && self.tiles.is_empty() && !part_ready;
        idle || self.waiting + bytes <= MAX_WAITING
    }
}

struct Desk<'a> {
    plan: Plan<'a>,
    columns: Vec<Vec<Cut>>,
    state: Mutex<State>,
    changed: Condvar,
}

/// Fills `folder` with the tiles of all levels.
pub(super) fn fill(
    scan: &mut Scan,
    folder: &Path,
    painter: Painter,
    shape: Shape,
    quality: u8,
    progress: &mut dyn FnMut(f64) -> ControlFlow<()>,
) -> Result<(), ImagingError> {
    let scan_path = scan.path().to_owned();
    let workers = std::thread::available_parallelism().map_or(1, usize::from).min(MAX_WORKERS);
    let stored = scan.stored();
    let mut twins = Vec::new();
    for _ in 0..workers {
        twins.push(scan.source().twin(&scan_path).map_err(|fault| fault.at(&scan_path))?);
    }
    // Blocks of about a part, but whole strips or rows of tiles.
    let block = scan.source().independent_rows().map(|rows| rows * PART.div_ceil(rows));
    let row = stored.0 as usize * shape.channels * scan.words();
    let flip_x = shape.orientation.flip_x;
    let columns = shape.sizes.iter().map(|&(width, _)| cuts(width, shape.tile, flip_x)).collect();
    let state = State {
        next_block: 0,
        decoded: 0,
        blocks: BTreeMap::new(),
        waiting: 0,
        parts: cuts(stored.1, PART, shape.orientation.flip_y).into(),
        early: BTreeMap::new(),
        painted: 0,
        levels: Levels::new(&shape),
        tiles: VecDeque::new(),
        busy: 0,
        failed: None,
    };
    let plan = Plan { painter, jpeg: Jpeg::new(quality), shape, scan_path: &scan_path, folder, row, block };
    let desk = Desk { plan, columns, state: Mutex::new(state), changed: Condvar::new() };
    std::thread::scope(|scope| {
        let desk = &desk;
        for twin in twins {
            scope.spawn(move || desk.work(twin));
        }
        if block.is_none() {
            let source = scan.source();
            scope.spawn(move || desk.read(source));
        }
        desk.watch(progress);
    });
    match desk.state.into_inner().unwrap_or_else(PoisonError::into_inner).failed {
        Some(error) => Err(error),
        None => Ok(()),
    }
}

/// Ends everybody's work should one of them panic; the panic itself goes on to the caller.
struct Alarm<'a, 'b>(&'a Desk<'b>);

impl Drop for Alarm<'_, '_> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            self.0.fail(Fault::Cancelled.at(self.0.plan.scan_path));
        }
    }
}

impl Desk<'_> {
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Notes the first failure, which ends everything.
    fn fail(&self, error: ImagingError) {
        self.lock().failed.get_or_insert(error);
        self.changed.notify_all();
    }

    fn height(&self) -> u32 {
        self.plan.shape.sizes[0].1
    }

    fn bytes(&self, rows: u32) -> u64 {
        2 * self.plan.row as u64 * u64::from(rows)
    }

    fn is_over(&self, state: &State) -> bool {
        let done = state.painted == self.height() && state.tiles.is_empty() && state.busy == 0;
        done || state.failed.is_some()
    }

    /// Tells the caller how far the work is, and asks whether to go on.
    fn watch(&self, progress: &mut dyn FnMut(f64) -> ControlFlow<()>) {
        let mut told = 0.0;
        loop {
            let state = self.lock();
            if self.is_over(&state) {
                return;
            }
            let share = f64::from(state.painted) / f64::from(self.height());
            if share == told {
                drop(self.changed.wait_timeout(state, PATIENCE).unwrap_or_else(PoisonError::into_inner));
            } else {
                drop(state);
            }
            told = share;
            if progress(share).is_break() {
                return self.fail(Fault::Cancelled.at(self.plan.scan_path));
            }
        }
    }

    /// One worker's day.
    fn work(&self, mut source: Option<Box<dyn Source>>) {
        let _alarm = Alarm(self);
        let mut scratch = Scratch::default();
        while let Some(job) = self.next_job() {
            let outcome = match job {
                Job::Tile(band, columns) => self.write_tile(&band, columns),
                Job::Paint(cut, blocks) => {
                    self.paint(cut, blocks, &mut scratch);
                    Ok(())
                }
                Job::Decode(rows) => match &mut source {
                    Some(source) => self.decode(&mut **source, rows),
                    None => Ok(()),
                },
            };
            if let Err(error) = outcome {
                self.fail(error);
            }
            self.lock().busy -= 1;
            self.changed.notify_all();
        }
    }

    /// Waits for something to do; nothing when all is done.
    fn next_job(&self) -> Option<Job> {
        let mut state = self.lock();
        loop {
            if self.is_over(&state) {
                return None;
            }
            if let Some(job) = self.ready(&mut state) {
                state.busy += 1;
                return Some(job);
            }
            state = self.changed.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
    }

    fn ready(&self, state: &mut State) -> Option<Job> {
        if let Some((band, columns)) = state.tiles.pop_front() {
            return Some(Job::Tile(band, columns));
        }
        if let Some(&cut) = state.parts.front()
            && cut.end() <= state.decoded
        {
            state.parts.pop_front();
            let blocks = state.blocks.range(..cut.end()).map(|(_, block)| block.clone()).collect();
            // What later parts have no use for.
            let used = |block: &Block| block.first + (block.samples.len() / self.plan.row) as u32 <= cut.end();
            state.blocks.retain(|_, block| !used(block));
            return Some(Job::Paint(cut, blocks));
        }
        let rows = self.plan.block?;
        let rows = state.next_block..(state.next_block.saturating_add(rows)).min(self.height());
        let bytes = self.bytes(rows.end - rows.start);
        if rows.is_empty() || !state.has_room(bytes) {
            return None;
        }
        state.next_block = rows.end;
        state.waiting += bytes;
        Some(Job::Decode(rows))
    }

    fn decode(&self, source: &mut dyn Source, rows: Range<u32>) -> Result<(), ImagingError> {
        let count = rows.end - rows.start;
        let mut samples = Vec::with_capacity(self.plan.row * count as usize);
        let region = Region { x: 0, y: rows.start, width: self.plan.shape.sizes[0].0, height: count };
        let mut take = |_, row: &[u16]| {
            samples.extend_from_slice(row);
            ControlFlow::Continue(())
        };
        source.read(region, &mut take).map_err(|fault| fault.at(self.plan.scan_path))?;
        self.arrived(Block { first: rows.start, samples });
        Ok(())
    }

    fn arrived(&self, block: Block) {
        let mut state = self.lock();
        state.blocks.insert(block.first, Arc::new(block));
        while let Some(next) = state.blocks.get(&state.decoded) {
            state.decoded += (next.samples.len() / self.plan.row) as u32;
        }
        drop(state);
        self.changed.notify_all();
    }

    /// Reads a file from the top, where nothing else can be done.
    fn read(&self, source: &mut dyn Source) {
        let _alarm = Alarm(self);
        let height = self.height();
        let mut samples = Vec::new();
        let mut take = |row: u32, given: &[u16]| {
            samples.extend_from_slice(given);
            let count = row % PART + 1;
            if count < PART && row + 1 < height {
                return ControlFlow::Continue(());
            }
            let flow = self.wait_for_room(self.bytes(count));
            let next = Vec::with_capacity(samples.len());
            self.arrived(Block { first: row + 1 - count, samples: std::mem::replace(&mut samples, next) });
            flow
        };
        if let Err(fault) = source.read(whole(self.plan.shape.sizes[0]), &mut take) {
            self.fail(fault.at(self.plan.scan_path));
        }
    }

    fn wait_for_room(&self, bytes: u64) -> ControlFlow<()> {
        let mut state = self.lock();
        while !state.has_room(bytes) && state.failed.is_none() {
            state = self.changed.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
        state.waiting += bytes;
        if state.failed.is_some() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }

    fn paint(&self, cut: Cut, blocks: Vec<Arc<Block>>, scratch: &mut Scratch) {
        let plan = &self.plan;
        let rows = blocks.iter().flat_map(|block| (block.first..).zip(block.samples.chunks_exact(plan.row)));
        let rows = rows.filter(|(row, _)| (cut.start..cut.end()).contains(row)).map(|(_, samples)| samples);
        let painted = Painted::new(&plan.painter, &plan.shape, cut, rows, scratch);
        drop(blocks);
        let mut state = self.lock();
        state.waiting -= self.bytes(cut.length);
        state.early.insert(cut.start, painted);
        let state = &mut *state;
        while let Some(painted) = state.early.remove(&state.painted) {
            state.painted += painted.rows();
            for band in state.levels.add(painted, &plan.painter, &plan.shape) {
                let band = Arc::new(band);
                state.tiles.extend(self.columns[band.level].iter().map(|&columns| (band.clone(), columns)));
            }
        }
    }

    fn write_tile(&self, band: &Band, columns: Cut) -> Result<(), ImagingError> {
        let plan = &self.plan;
        let (tile, (width, height)) = band.tile(&plan.shape, columns);
        let jpeg = plan.jpeg.encode(&tile, width, height);
        let (column, row) = plan.shape.orientation.sides(columns.tile, band.rows.tile);
        let path = plan.folder.join(tile_name(band.level as u32, column, row));
        std::fs::write(path, jpeg).map_err(|error| Fault::Write(error).at(plan.folder))
    }
}
