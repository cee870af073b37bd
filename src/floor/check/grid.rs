//! Positions: each that is not empty has one kind of panel, one run and one feed.

use std::cell::Cell;
use std::collections::{BTreeMap, BTreeSet};

use super::super::defaults::{MOST_NAMED_POSITIONS, MOST_PANELS};
use super::super::draft::{Draft, GridDraft, Place, Places};
use super::super::fault::Fault;
use super::super::model::{Lead, Position};
use super::super::range::Rectangle;
use super::super::sink::Sink;
use super::named;
use super::names::Links;

/// What lies where.
#[derive(Debug)]
pub(super) struct Laid {
    /// Where every panel lies, by rows.
    pub(super) positions: Vec<Position>,
    /// By panel: its kind.
    pub(super) kind: Vec<Option<usize>>,
    /// Which panels the runs name.
    pub(super) runs: Claims,
    /// Which panels the feeds name.
    pub(super) feeds: Claims,
    /// Which panels the inputs name.
    pub(super) inputs: Claims,
}

impl Laid {
    /// The panels of one run in wiring order, each with what comes before it.
    pub(super) fn along<'l>(
        &'l self,
        draft: &'l Draft,
        run: usize,
    ) -> impl Iterator<Item = (usize, Lead)> + 'l {
        let mut before = None;
        self.runs.by_list[run].iter().map(move |&panel| {
            let place = self.runs.by_panel[panel].map(|(_, place)| place);
            let first = before != place;
            before = place;
            let places = &draft.runs[run].panels.list;
            let lead = place.filter(|_| first).map(|place| places[place].lie.lead);
            (panel, lead.unwrap_or_default())
        })
    }
}

/// Who names which panel.
#[derive(Debug)]
pub(super) struct Claims {
    /// By panel: the list and the element of the list that names it first.
    pub(super) by_panel: Vec<Option<(usize, usize)>>,
    /// By list: panels in its order.
    pub(super) by_list: Vec<Vec<usize>>,
    /// Whether every list could be read.
    whole: bool,
}

/// The file names more positions than will be followed; this has been told.
struct TooMany;

/// What the faults of one sort of list are called.
struct Sort {
    code_twice: &'static str,
    twice: &'static str,
    help_twice: &'static str,
}

/// The grid with what lies on it.
struct Ground<'d> {
    sink: &'d Sink,
    columns: u16,
    rows: u16,
    empty: &'d [Place],
    /// By position: the panel, or the element of `empty` that names it.
    cells: Vec<Result<u32, u32>>,
    positions: Vec<Position>,
    /// Positions that may still be named.
    left: Cell<u64>,
}

/// Lays the panels out; nothing when the grid itself is wrong.
pub(super) fn lay(sink: &Sink, draft: &Draft, grid: &GridDraft, links: &Links) -> Option<Laid> {
    let ground = Ground::new(sink, grid)?;
    let kinds = ground.claims(
        draft.panels.iter().map(|panel| &panel.at),
        &Sort {
            code_twice: "two-kinds",
            twice: "two kinds of panel",
            help_twice: "name a position in the `at` of one kind only",
        },
    );
    let runs = ground.claims(
        draft.runs.iter().map(|run| &run.panels),
        &Sort {
            code_twice: "in-two-runs",
            twice: "two places of the wiring",
            help_twice: "a panel hangs on one run, once",
        },
    );
    let feeds = ground.claims(
        draft.feeds.iter().map(|feed| &feed.positions),
        &Sort {
            code_twice: "in-two-feeds",
            twice: "two feeds",
            help_twice: "a panel is fed through one fuse",
        },
    );
    let inputs = ground.claims(
        draft.inputs.iter().map(|input| &input.positions),
        &Sort {
            code_twice: "in-two-inputs",
            twice: "two places among the switches",
            help_twice: "the switches of a panel come in by one input, once",
        },
    );
    let missing = |claims: &Claims, code, what: &str, help: &str| {
        let none =
            |(panel, claim): (usize, &Option<_>)| claim.is_none().then(|| ground.positions[panel]);
        let none: Vec<Position> = claims
            .by_panel
            .iter()
            .enumerate()
            .filter_map(none)
            .collect();
        if !none.is_empty() && claims.whole {
            let message = format!("no {what}: {}", named(&none));
            sink.add(Fault::new(code, &grid.span, message, help));
        }
    };
    if !draft.runs.is_empty() {
        let help =
            "name them in the `panels` of a run, or in `empty` of [grid] if nothing lies there";
        missing(&runs, "in-no-run", "run names these positions", help);
    }
    if !draft.feeds.is_empty() {
        let help =
            "name them in the `positions` of a feed, or in `empty` of [grid] if nothing lies there";
        missing(&feeds, "in-no-feed", "feed names these positions", help);
    }
    if grid.panel.is_none() && !draft.panels.is_empty() {
        let help = "set `panel` of [grid] to the usual kind, or name them in the `at` of a kind";
        missing(
            &kinds,
            "no-kind",
            "kind of panel is given for these positions",
            help,
        );
    }
    let kind = kinds
        .by_panel
        .iter()
        .map(|claim| claim.map(|(kind, _)| kind).or(links.grid_panel));
    let laid = Laid {
        kind: kind.collect(),
        positions: ground.positions,
        runs,
        feeds,
        inputs,
    };
    turns(sink, draft, grid, &laid);
    Some(laid)
}

impl<'d> Ground<'d> {
    fn new(sink: &'d Sink, grid: &'d GridDraft) -> Option<Self> {
        let (columns, rows) = (grid.columns?, grid.rows?);
        let size = usize::from(columns) * usize::from(rows);
        let mut ground = Self {
            sink,
            columns,
            rows,
            empty: &grid.empty.list,
            cells: vec![Ok(0); size],
            positions: Vec::new(),
            left: Cell::new(MOST_NAMED_POSITIONS),
        };
        for (i, place) in (0_u32..).zip(&grid.empty.list) {
            for position in ground
                .on_grid(place)
                .ok()?
                .into_iter()
                .flat_map(Rectangle::walk)
            {
                let cell = ground.index(position);
                ground.cells[cell] = Err(i);
            }
        }
        let panels = ground.cells.iter().filter(|cell| cell.is_ok()).count();
        if panels == 0 || panels > MOST_PANELS {
            let (code, message) = if panels == 0 {
                ("no-panels", "every position is empty".to_owned())
            } else {
                ("too-many-panels", format!("the floor has {panels} panels"))
            };
            let help = format!(
                "a floor has 1 to {MOST_PANELS} panels; check `columns`, `rows` and `empty`"
            );
            sink.add(Fault::new(code, &grid.span, message, help));
            return None;
        }
        let mut next = 0;
        for row in 0..rows {
            for column in 0..columns {
                let position = Position { row, column };
                let cell = ground.index(position);
                if ground.cells[cell].is_ok() {
                    ground.cells[cell] = Ok(next);
                    ground.positions.push(position);
                    next += 1;
                }
            }
        }
        Some(ground)
    }

    fn index(&self, position: Position) -> usize {
        usize::from(position.row) * usize::from(self.columns) + usize::from(position.column)
    }

    /// What of a rectangle lies on the grid.
    fn on_grid(&self, place: &Place) -> Result<Option<Rectangle>, TooMany> {
        if !place.rectangle.inside(self.columns, self.rows) {
            let last = Position {
                row: self.rows - 1,
                column: self.columns - 1,
            };
            let Rectangle { from, to } = place.rectangle;
            let message = if from == to {
                format!("{from} lies outside the grid")
            } else {
                format!("{from}..{to} goes beyond the grid")
            };
            let help = format!("positions go from A1 to {last}");
            self.sink
                .add(Fault::new("outside-grid", &place.span, message, help));
        }
        let clipped = place.rectangle.clipped(self.columns, self.rows);
        let count = clipped.map_or(0, Rectangle::count);
        let left = self.left.get();
        if count > left {
            let message = "the file names far more positions than a floor can have";
            let help = "name every position once in `empty`, in one run and in one feed";
            self.sink
                .add(Fault::new("too-many-positions", &place.span, message, help));
            return Err(TooMany);
        }
        self.left.set(left - count);
        Ok(clipped)
    }

    /// Gives the panels to the lists that name them.
    fn claims(&self, lists: impl Iterator<Item = &'d Places>, sort: &Sort) -> Claims {
        let lists: Vec<&Places> = lists.collect();
        let mut claims = Claims {
            by_panel: vec![None; self.positions.len()],
            by_list: vec![Vec::new(); lists.len()],
            whole: lists.iter().all(|list| !list.broken),
        };
        let mut twice: BTreeMap<_, Vec<Position>> = BTreeMap::new();
        let mut empty: BTreeMap<_, Vec<Position>> = BTreeMap::new();
        'all: for (l, list) in lists.iter().enumerate() {
            for (p, place) in list.list.iter().enumerate() {
                let Ok(rectangle) = self.on_grid(place) else {
                    claims.whole = false;
                    break 'all;
                };
                for position in rectangle.into_iter().flat_map(Rectangle::walk) {
                    let panel = match self.cells[self.index(position)] {
                        Ok(panel) => panel as usize,
                        Err(by) => {
                            empty.entry((l, p, by)).or_default().push(position);
                            continue;
                        }
                    };
                    if let Some(first) = claims.by_panel[panel] {
                        twice.entry(((l, p), first)).or_default().push(position);
                    } else {
                        claims.by_panel[panel] = Some((l, p));
                        claims.by_list[l].push(panel);
                    }
                }
            }
        }
        for (((l, p), (first_l, first_p)), positions) in twice {
            let positions = named(&positions);
            let message = if l == first_l {
                format!("named twice in one list: {positions}")
            } else {
                format!("{} for one panel: {positions}", sort.twice)
            };
            let fault = Fault::new(
                sort.code_twice,
                &lists[l].list[p].span,
                message,
                sort.help_twice,
            );
            self.sink
                .add(fault.and(&lists[first_l].list[first_p].span, "named here already"));
        }
        for ((l, p, by), positions) in empty {
            let message = format!("nothing lies there: {}", named(&positions));
            let help = "take it out here, or out of `empty` in [grid]";
            let fault = Fault::new("empty-position", &lists[l].list[p].span, message, help);
            self.sink
                .add(fault.and(&self.empty[by as usize].span, "said to be empty"));
        }
        claims
    }
}

/// A quarter turn makes an oblong panel lie across its neighbours.
fn turns(sink: &Sink, draft: &Draft, grid: &GridDraft, laid: &Laid) {
    let Some([width, height]) = grid.panel_mm else {
        return;
    };
    if (width - height).abs() < 1e-6 {
        return;
    }
    let mut told = BTreeSet::new();
    for claim in laid.runs.by_panel.iter().flatten() {
        let place = &draft.runs[claim.0].panels.list[claim.1];
        let turn_deg = place.lie.turn_deg;
        if !turn_deg.is_multiple_of(180) && told.insert(*claim) {
            let message =
                format!("a panel of {width} × {height} mm can't be turned by {turn_deg} degrees");
            let help = "only square panels are turned by 90 or 270 degrees; others by 180";
            sink.add(Fault::new("turned-oblong", &place.span, message, help));
        }
    }
}
