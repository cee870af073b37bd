//! What the fuzz targets share: a made-up floor, a network with a witness on it, and the web part
//! without a socket. Time is made up, as in the tests, so that hours pass within an execution.

pub mod bytes;
pub mod daemon;
pub mod http;
pub mod world;

use std::future::Future;
use std::sync::{Arc, LazyLock};

use litfloor::floor::{Floor, FloorFile, Tables, parse};
use litfloor::web::FloorView;

/// The floor file of the floor that is attacked.
pub const FLOOR: &str = include_str!("../floor.toml");

/// The floor, its tables, and what the web part shows of it: made once.
pub struct Made {
    pub floor: Arc<Floor>,
    pub tables: Arc<Tables>,
    pub view: Arc<FloorView>,
}

/// The floor that is attacked.
pub static MADE: LazyLock<Made> = LazyLock::new(|| {
    let floor = parse("floor.toml", FLOOR).expect("the floor of the fuzz targets is sound");
    let (tables, floor) = (Arc::new(Tables::compile(&floor)), Arc::new(floor));
    let view = Arc::new(view_of(FLOOR, &floor, &tables, 1));
    Made {
        floor,
        tables,
        view,
    }
});

/// What the web part shows of a floor.
pub fn view_of(text: &str, floor: &Arc<Floor>, tables: &Arc<Tables>, revision: u32) -> FloorView {
    let file = FloorFile {
        name: "floor.toml".to_owned(),
        text: text.to_owned(),
    };
    FloorView::new(file, floor, tables, revision, false)
}

/// Runs one execution to its end on a clock that goes on by itself whenever all wait.
pub fn in_no_time(execution: impl Future<Output = ()>) {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .start_paused(true)
        .build();
    runtime.expect("a runtime").block_on(execution);
}
