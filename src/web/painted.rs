//! Paints the pictures that people look at, once for all of them and beside the frames.

use std::sync::Arc;

use tokio::sync::watch;

use super::FloorView;
use crate::engine::levels::Shown;
use crate::engine::snapshot::Levels;

mod held;

/// Makes a picture of every [`Shown`] that differs from the one before, until the data plane ends.
/// Where painting takes longer than the pause between two, those between are passed over.
pub async fn paint(
    mut shown: watch::Receiver<Arc<Shown>>,
    floor: watch::Receiver<Arc<FloorView>>,
    levels: watch::Sender<Arc<Levels>>,
) {
    let mut used = Levels::default();
    while shown.changed().await.is_ok() {
        let newest = Arc::clone(&shown.borrow_and_update());
        let view = Arc::clone(&floor.borrow());
        let last = Arc::clone(&levels.borrow());
        let buffers = std::mem::take(&mut used);
        // A large floor takes milliseconds, in which nobody else should have to wait.
        let painted = tokio::task::spawn_blocking(move || news(&newest, &view, &last, buffers));
        match painted.await {
            Ok(Ok(picture)) => {
                let old = levels.send_replace(Arc::new(picture));
                used = Arc::into_inner(old).unwrap_or_default();
            }
            Ok(Err(buffers)) => used = buffers,
            // It panicked, which has been said; the next picture may be painted again.
            Err(_) => {}
        }
    }
}

/// The picture of `shown`, painted into `buffers`, which are given back if it is no news after `last`.
fn news(shown: &Shown, view: &FloorView, last: &Levels, buffers: Levels) -> Result<Levels, Levels> {
    // The floor and the slots of another one come one after the other.
    if view.document.revision != shown.revision {
        return Err(buffers);
    }
    let mut picture = shown.picture(&view.tables, buffers)?;
    held::hold(last, &mut picture);
    if last.revision == picture.revision && last.sent == picture.sent && last.asked == picture.asked
    {
        return Err(picture);
    }
    picture.frame = last.frame.wrapping_add(1);
    Ok(picture)
}

#[cfg(test)]
mod tests {
    use super::super::testing::view;
    use super::*;
    use crate::floor::tables::UNIVERSE_SLOTS;

    /// The same value in every slot of the test floor.
    fn slots(revision: u32, value: u8) -> Arc<Shown> {
        let bytes = view(1).tables.outputs.len() * UNIVERSE_SLOTS;
        Arc::new(Shown {
            revision,
            uptime_ms: 7,
            sent: vec![value; bytes],
            asked: vec![value + 1; bytes],
        })
    }

    #[test]
    fn only_what_differs_and_is_of_this_floor_is_news() {
        let floor = view(1);
        let first = news(&slots(1, 5), &floor, &Levels::default(), Levels::default()).unwrap();
        assert_eq!((first.frame, first.revision, first.channels), (1, 1, 4));
        assert_eq!((first.uptime_ms, first.sent.len()), (7, 40), "ten pixels");
        // Its RGBW pixels have white, the others have none: a colour that is not there is 0.
        assert!(first.sent.iter().all(|&level| level == 5 || level == 0));
        assert!(first.asked.contains(&6));
        assert!(news(&slots(1, 5), &floor, &first, Levels::default()).is_err());
        assert!(news(&slots(2, 9), &floor, &first, Levels::default()).is_err());
        let short = Shown {
            sent: Vec::new(),
            ..Shown::clone(&slots(1, 9))
        };
        assert!(news(&short, &floor, &first, Levels::default()).is_err());
        let used = Levels {
            sent: vec![77; 99],
            ..Levels::default()
        };
        let second = news(&slots(1, 9), &floor, &first, used).unwrap();
        assert_eq!((second.frame, second.sent.len()), (2, 40));
        assert!(second.sent.contains(&9) && !second.sent.contains(&77));
    }

    #[tokio::test]
    async fn pictures_follow_what_is_shown_until_that_ends() {
        let (show, shown) = watch::channel(Arc::default());
        let (_replace, floor) = watch::channel(view(1));
        let (levels, mut seen) = watch::channel(Arc::default());
        let painter = tokio::spawn(paint(shown, floor, levels));
        for (frame, value) in [(1, 5), (2, 9), (3, 5)] {
            show.send_replace(slots(1, value));
            seen.changed().await.unwrap();
            let picture = Arc::clone(&seen.borrow_and_update());
            assert_eq!(
                (picture.frame, picture.asked.contains(&(value + 1))),
                (frame, true)
            );
        }
        drop(show);
        painter.await.unwrap();
    }
}
