//! Universes of switches that are silent or too short.

use super::super::snapshot::{InputState, Notice, Severity};
use super::{names, notice};

/// At most one notice of each sort.
pub(super) fn all(inputs: &[InputState]) -> Vec<Notice> {
    let mut notices = Vec::new();
    let of = |wanted: &dyn Fn(&InputState) -> bool| -> Vec<String> {
        let found = inputs.iter().filter(|input| wanted(input));
        let name = |input: &InputState| format!("{} from node {}", input.port_address, input.node);
        found.map(name).collect()
    };
    let lost = of(&|input| input.lost);
    if !lost.is_empty() {
        let text = format!(
            "Switches say nothing any more: {}. Who stands there is unknown. Look at that node and its \
             cable.",
            names(&lost)
        );
        notices.push(notice("switches_lost", Severity::Warning, text));
    }
    let short = of(&|input| !input.lost && input.cut_off > 0);
    if !short.is_empty() {
        let text = format!(
            "Frames with switches end before the last of them: {}. Look at how many slots that node \
             sends, and at [[input]] in the floor file.",
            names(&short)
        );
        notices.push(notice("switches_cut_off", Severity::Warning, text));
    }
    notices
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lost_and_short_ones_are_told_apart() {
        let input = |port_address: &str, lost, cut_off| InputState {
            port_address: port_address.into(),
            node: "north".into(),
            lost,
            cut_off,
            ..InputState::default()
        };
        let notices = all(&[
            input("0:2:0", true, 3),
            input("0:2:1", false, 2),
            input("0:2:2", false, 0),
        ]);
        let told: Vec<_> = notices
            .iter()
            .map(|n| {
                (
                    n.code.as_str(),
                    n.text.contains("0:2:0"),
                    n.text.contains("0:2:1"),
                )
            })
            .collect();
        assert_eq!(
            told,
            [
                ("switches_lost", true, false),
                ("switches_cut_off", false, true)
            ]
        );
    }
}
