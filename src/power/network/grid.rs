//! The resistances of one feed, and the linear system that they make.
//!
//! A feed is a tree of cables and strips with a few loops: strip between two places where power
//! enters it, and a chain of panels with a cable at both ends. Each loop is a path that begins and
//! ends at one node. So the nodes can be put in an order in which every node, when it is
//! eliminated, has at most two neighbours left: the next one of its path and the path's root. That
//! is Gaussian elimination without any fill beside one number a node, exact, in time and memory
//! proportional to the nodes.
//!
//! Node 0 is the supply, whose voltage is given. Every other node stands behind its `next` and its
//! `root`, so elimination goes from the last node to the first.

/// What has no resistance still needs a finite conductance where two ends of a path meet: 0.1 µΩ,
/// a microvolt at ten amperes.
const LEAST_OHM: f64 = 1e-7;

/// A node's wires to the nodes before it.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Node {
    /// Conductance to `next`, in siemens.
    to_next: f64,
    /// Conductance to `root`: 0 but for the last node of a path that is closed there.
    to_root: f64,
    /// Sum of all conductances that end here.
    total: f64,
    next: u32,
    root: u32,
}

/// A place in the network of one feed: an index into its nodes.
pub(super) type NodeIndex = u32;

/// The supply.
pub(super) const SUPPLY: NodeIndex = 0;

/// The wires of one feed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Grid {
    nodes: Vec<Node>,
    /// The way from each node to the supply, in ohms, as if there were no loops.
    way_ohm: Vec<f64>,
}

impl Grid {
    /// The supply alone.
    pub(super) fn new() -> Self {
        let supply = Node {
            to_next: 0.0,
            to_root: 0.0,
            total: 0.0,
            next: SUPPLY,
            root: SUPPLY,
        };
        Self {
            nodes: vec![supply],
            way_ohm: vec![0.0],
        }
    }

    /// Number of nodes, the supply included.
    pub(super) fn len(&self) -> usize {
        self.nodes.len()
    }

    /// A new node `ohm` away from `next`, on a path that began at `root`; `next` itself if there
    /// is no resistance between them.
    pub(super) fn hang(&mut self, next: NodeIndex, root: NodeIndex, ohm: f64) -> NodeIndex {
        if ohm <= 0.0 {
            return next;
        }
        let conductance = 1.0 / ohm.max(LEAST_OHM);
        #[expect(clippy::cast_possible_truncation, reason = "pixels of one feed")]
        let index = self.nodes.len() as NodeIndex;
        self.way_ohm
            .push(self.way_ohm[next as usize] + 1.0 / conductance);
        self.nodes[next as usize].total += conductance;
        self.nodes.push(Node {
            to_next: conductance,
            to_root: 0.0,
            total: conductance,
            next,
            root,
        });
        index
    }

    /// Connects the newest node of a path with the path's root, `ohm` away; nothing if the path
    /// has no node of its own.
    pub(super) fn close(&mut self, last: NodeIndex, root: NodeIndex, ohm: f64) {
        if last == root {
            return;
        }
        let conductance = 1.0 / ohm.max(LEAST_OHM);
        self.nodes[root as usize].total += conductance;
        let node = &mut self.nodes[last as usize];
        node.total += conductance;
        node.to_root += conductance;
    }

    /// The largest resistance between the supply and any node, or more: loops only lower it.
    pub(super) fn longest_ohm(&self) -> f64 {
        self.way_ohm.iter().copied().fold(0.0, f64::max)
    }

    /// Takes the currents that flow away from each node at these voltages off `short`.
    pub(super) fn take_flows(&self, volts: &[f64], short: &mut [f64]) {
        let count = self.nodes.len();
        let (volts, short) = (&volts[..count], &mut short[..count]);
        for (here, node) in self.nodes.iter().enumerate().skip(1) {
            let (next, root) = (node.next as usize, node.root as usize);
            let to_next = node.to_next * (volts[here] - volts[next]);
            short[here] -= to_next;
            short[next] += to_next;
            if node.to_root > 0.0 {
                let to_root = node.to_root * (volts[here] - volts[root]);
                short[here] -= to_root;
                short[root] += to_root;
            }
        }
    }

    /// Solves (conductances + `slopes` on the diagonal) · x = `short`, with x = 0 at the supply.
    /// The answer replaces `short`; `slopes` and `fill` are used up.
    pub(super) fn solve(&self, slopes: &mut [f64], short: &mut [f64], fill: &mut [f64]) {
        let count = self.nodes.len();
        let (diagonal, x) = (&mut slopes[..count], &mut short[..count]);
        let fill = &mut fill[..count];
        for ((node, diagonal), fill) in self.nodes.iter().zip(&mut *diagonal).zip(&mut *fill) {
            *diagonal += node.total;
            *fill = node.to_root;
        }
        for (here, node) in self.nodes.iter().enumerate().skip(1).rev() {
            let (next, root) = (node.next as usize, node.root as usize);
            let inverse = 1.0 / diagonal[here];
            let share = x[here] * inverse;
            diagonal[here] = inverse;
            let (to_next, to_root) = (node.to_next, fill[here]);
            if to_root <= 0.0 {
                diagonal[next] -= to_next * to_next * inverse;
                x[next] += to_next * share;
            } else if next == root {
                let both = to_next + to_root;
                diagonal[next] -= both * both * inverse;
                x[next] += both * share;
            } else {
                diagonal[next] -= to_next * to_next * inverse;
                diagonal[root] -= to_root * to_root * inverse;
                fill[next] += to_next * to_root * inverse;
                x[next] += to_next * share;
                x[root] += to_root * share;
            }
        }
        x[0] = 0.0;
        for (here, node) in self.nodes.iter().enumerate().skip(1) {
            let neighbours =
                node.to_next * x[node.next as usize] + fill[here] * x[node.root as usize];
            x[here] = (x[here] + neighbours) * diagonal[here];
        }
    }

    /// Watts that become heat in the wires that end in `nodes` on the far side from the supply.
    pub(super) fn heat_w(&self, nodes: std::ops::Range<usize>, volts: &[f64]) -> f64 {
        let heat = |here: usize| {
            let node = &self.nodes[here];
            let along = volts[here] - volts[node.next as usize];
            let across = volts[here] - volts[node.root as usize];
            node.to_next * along * along + node.to_root * across * across
        };
        nodes.map(heat).sum()
    }

    /// The current that flows into a path at its closed end, from its root, in amperes.
    pub(super) fn closing_a(&self, last: NodeIndex, volts: &[f64]) -> f64 {
        let node = &self.nodes[last as usize];
        node.to_root * (volts[node.root as usize] - volts[last as usize])
    }
}
