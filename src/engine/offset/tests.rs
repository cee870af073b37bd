use super::*;

use proptest::prelude::*;

fn set(slots: &[i32]) -> SlotSet {
    SlotSet::of(|slot| slots.contains(&i32::try_from(slot).unwrap()))
}

/// The rule again, slot by slot over whole numbers instead of bits.
fn naive(lit: &[i32], expected: &[i32]) -> Verdict {
    if lit.is_empty() {
        return Verdict::Dark;
    }
    let mut all: Vec<(usize, i16)> = (-511..=511_i16)
        .map(|by| {
            let moved: Vec<i32> = expected.iter().map(|slot| slot + i32::from(by)).collect();
            let only_lit = lit.iter().filter(|slot| !moved.contains(slot)).count();
            let only_expected = moved.iter().filter(|slot| !lit.contains(slot)).count();
            (only_lit + only_expected, by)
        })
        .collect();
    all.sort_unstable();
    match (all[0], all[1].0) {
        ((best, _), second) if second < 3 * best + 2 => Verdict::Unclear,
        ((_, 0), _) if expected.iter().all(|slot| lit.contains(slot)) => Verdict::Fits,
        ((_, 0), _) => Verdict::Unclear,
        ((_, by), _) => Verdict::Shifted(by),
    }
}

fn slots(most: usize) -> impl Strategy<Value = Vec<i32>> {
    prop::collection::btree_set(0..512, 0..most).prop_map(|slots| slots.into_iter().collect())
}

/// The first pixel of each of some panels of `per_panel` slots.
fn first_pixels(start: i32, panels: i32, per_panel: i32) -> Vec<i32> {
    let starts = (0..panels).map(|panel| start + panel * per_panel);
    starts.flat_map(|first| first..first + 3).collect()
}

proptest! {
    #[test]
    fn is_the_naive_rule(lit in slots(60), expected in slots(60)) {
        prop_assert_eq!(compare(set(&lit), set(&expected)), naive(&lit, &expected));
    }

    #[test]
    fn is_the_naive_rule_also_near_a_fit(
        expected in slots(60), by in -511..=511_i32, wrong in slots(4),
    ) {
        let moved = expected.iter().map(|slot| slot + by).filter(|slot| (0..512).contains(slot));
        let mut lit: Vec<i32> = moved.filter(|slot| !wrong.contains(slot)).collect();
        lit.extend(wrong.iter().filter(|slot| **slot % 2 == 0));
        prop_assert_eq!(compare(set(&lit), set(&expected)), naive(&lit, &expected));
    }

    /// A reference that is shifted is found, with its n, whatever the panels' size.
    #[test]
    fn a_shifted_reference_is_found(
        start in 0..60, panels in 1..9, per_panel in 6..60, by in 0..512_i32,
    ) {
        let expected = first_pixels(start, panels, per_panel);
        let last = start + (panels - 1) * per_panel + 2;
        prop_assume!(last < 512);
        // Any at which it still lies inside the universe.
        let by = by % (512 - last + start) - start;
        let lit: Vec<i32> = expected.iter().map(|slot| slot + by).collect();
        let wanted = match i16::try_from(by).unwrap() {
            0 => Verdict::Fits,
            by => Verdict::Shifted(by),
        };
        prop_assert_eq!(compare(set(&lit), set(&expected)), wanted);
    }

    /// Whatever a picture shows inside its own slots, it never looks shifted.
    #[test]
    fn a_picture_inside_its_slots_is_never_suspected(
        first in 0..300_usize, len in 1..300_usize, noise in prop::collection::vec(any::<bool>(), 512),
    ) {
        let mut mapped = SlotSet::default();
        mapped.add(first..first + len);
        let lit = SlotSet::of(|slot| noise[slot]).and(mapped);
        prop_assert_eq!(suspect(lit, mapped), None);
        prop_assert!(!matches!(compare(lit, mapped), Verdict::Shifted(_)));
    }
}

proptest! {
    /// What is passed over early would have come to nothing.
    #[test]
    fn what_is_suspected_is_what_the_whole_comparison_says(
        first in 0..200_usize, len in 24..300_usize, by in -30..30_i16,
        stray in prop::collection::vec(0..512_usize, 0..40),
        dark in prop::collection::vec(0..512_usize, 0..40),
    ) {
        let mut mapped = SlotSet::default();
        mapped.add(first..first + len);
        let lit = mapped.shifted(by);
        let lit = SlotSet::of(|slot| stray.contains(&slot)).or(lit);
        let lit = lit.without(SlotSet::of(|slot| dark.contains(&slot)));
        let told = match compare(lit, mapped) {
            Verdict::Shifted(by) if !lit.without(mapped).is_empty() => Some(by),
            _ => None,
        };
        let touches = !lit.and(mapped).is_empty();
        let near = |by: &i16| touches || by.unsigned_abs() <= NEAR;
        prop_assert_eq!(suspect(lit, mapped), told.filter(near));
    }
}

/// Floors whose console's patch comes one panel late: slots of a pixel, pixels of a panel, panels.
const PANEL_LATE: [(i32, i32, i32); 6] = [
    (3, 16, 10),
    (3, 14, 12),
    (3, 20, 8),
    (3, 21, 8),
    (4, 11, 11),
    (4, 12, 10),
];

#[test]
fn a_shift_by_whole_panels_is_told_where_the_ends_show_it() {
    for (slots, pixels, panels) in PANEL_LATE {
        let per_panel = slots * pixels;
        let first_pixels = |at: i32| -> Vec<i32> {
            let starts = (0..panels).map(|panel| at + panel * per_panel);
            starts.flat_map(|first| first..first + slots).collect()
        };
        let expected = set(&first_pixels(0));
        assert_eq!(compare(expected, expected), Verdict::Fits);
        let late = first_pixels(per_panel);
        let by = i16::try_from(per_panel).unwrap();
        assert_eq!(compare(set(&late), expected), Verdict::Shifted(by));
        assert_eq!(compare(expected, set(&late)), Verdict::Shifted(-by));
        // Once the last panel's has left the universe, the first's may as well be dark.
        let full = set(&late[..late.len() - usize::try_from(slots).unwrap()]);
        assert_eq!(compare(full, expected), Verdict::Unclear);
    }
}

#[test]
fn it_lies_right_only_if_all_of_it_is_lit() {
    let expected = first_pixels(48, 8, 48);
    let with = |more: &[i32]| set(&[&expected[..], more].concat());
    assert_eq!(compare(with(&[]), set(&expected)), Verdict::Fits);
    // Two stray slots; three could be the first pixel of the panel before or behind.
    assert_eq!(compare(with(&[500, 501]), set(&expected)), Verdict::Fits);
    let before = [0, 1, 2];
    assert_eq!(compare(with(&before), set(&expected)), Verdict::Unclear);
    // A panel of the middle that is dark, and one slot that is.
    for dark in [3..6, 7..8] {
        let mut lit = expected.clone();
        lit.drain(dark);
        assert_eq!(compare(set(&lit), set(&expected)), Verdict::Unclear);
    }
}

#[test]
fn lamps_far_beside_a_dark_floor_are_not_called_its_light() {
    let mut mapped = SlotSet::default();
    mapped.add(0..60);
    assert_eq!(suspect(mapped.shifted(48), mapped), Some(48));
    assert_eq!(suspect(mapped.shifted(300), mapped), None);
    // Sent on purpose it is.
    assert_eq!(compare(mapped.shifted(300), mapped), Verdict::Shifted(300));
}

#[test]
fn a_whole_picture_that_is_shifted_is_suspected() {
    let mut mapped = SlotSet::default();
    mapped.add(0..360);
    assert_eq!(suspect(mapped.shifted(5), mapped), Some(5));
    assert_eq!(suspect(mapped, mapped), None);
    // Where it runs over the end of the universe, four and five slots look the same.
    let mut full = SlotSet::default();
    full.add(0..510);
    assert_eq!(suspect(full.shifted(5), full), None);
    assert_eq!(suspect(full.shifted(2), full), Some(2));
}

/// How often random pictures look shifted that are not: none of 10,000, whatever share of the slots
/// is lit and whether other lamps share the universe or not.
#[test]
fn random_pictures_are_not_called_shifted() {
    let mut seed = 0x9E37_79B9_7F4A_7C15_u64;
    // xorshift64* (Vigna 2016).
    let mut random = move || {
        seed ^= seed >> 12;
        seed ^= seed << 25;
        seed ^= seed >> 27;
        seed.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 32
    };
    let reference = set(&first_pixels(0, 4, 120));
    let mut mapped = SlotSet::default();
    mapped.add(0..480);
    let mut alarms = 0;
    for round in 0..10_000_u64 {
        let share = round % 100;
        let levels: Vec<bool> = (0..512).map(|_| random() % 100 < share).collect();
        let lit = SlotSet::of(|slot| levels[slot]);
        let shifted = |verdict| matches!(verdict, Verdict::Shifted(_));
        alarms += u32::from(shifted(compare(lit, reference)));
        alarms += u32::from(suspect(lit, mapped).is_some());
    }
    assert_eq!(alarms, 0);
}
