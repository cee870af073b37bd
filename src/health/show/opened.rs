//! What the watch for sudden steps tells, in the words of the whole estimator.

use super::ShowSpec;
use super::findings::Dropped;
use super::steps::Told;

/// What goes on to draw more than this share is dim, not dead: it is left to those who weigh shares.
const DEAD: f64 = 0.15;

/// Joints that opened and stayed open. A panel in which something may have opened, and nobody can tell what,
/// is left to those who weigh longer: what is told of it at first comes and goes.
pub(super) fn dropped(spec: &ShowSpec, told: &Told) -> Vec<Dropped> {
    let opened = told.opened.iter().filter(|one| one.share <= DEAD);
    let dropped = opened.map(|one| {
        let own = one.items.iter().map(|&item| &spec.items[item as usize]);
        let own = own.filter(|item| item.panel == one.panel);
        Dropped {
            panel: one.panel,
            segment: own.map(|item| item.segment).min(),
            items: one.items.clone(),
            at: one.at,
            chance: one.chance,
            evidence: format!("Its current fell by {:.2} A at once.", one.by_a),
        }
    });
    dropped.collect()
}

#[cfg(test)]
mod tests {
    use super::super::spec::ShowItem;
    use super::super::steps::Opened;
    use super::*;
    use crate::units::Time;

    fn spec() -> ShowSpec {
        let item = |number: u32| ShowItem {
            panel: number / 4,
            segment: number % 4,
            full_a: 0.5,
            sensors: vec![0],
        };
        ShowSpec {
            items: (0..8).map(item).collect(),
            ..ShowSpec::default()
        }
    }

    #[test]
    fn what_opened_is_told_from_its_first_segment_on_and_what_is_dim_is_left() {
        let one = |items: Vec<u32>, share: f64| Opened {
            panel: 0,
            groups: Vec::new(),
            items,
            at: Time::from_s(3),
            share,
            held: false,
            by_a: 0.75,
            chance: 0.999,
        };
        let told = Told {
            opened: vec![one(vec![2, 3, 4], 0.0), one(vec![1], 0.6)],
            ..Told::default()
        };
        let dropped = dropped(&spec(), &told);
        assert_eq!(dropped.len(), 1);
        assert_eq!(
            (dropped[0].segment, &*dropped[0].items),
            (Some(2), &[2, 3, 4][..])
        );
    }
}
