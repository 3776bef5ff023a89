//! The standard maps for one, two and four switches (common practice, no source).

use crate::foot::action::Action;
use crate::foot::footmap::FootState;
use crate::foot::gesture::GestureKind;

/// A line of a standard map: the switch, the gesture, and the action in a state.
pub(crate) type Line = (FootState, u8, GestureKind, Action);

pub(crate) const ONE: &[Line] = {
    use Action::*;
    use FootState::*;
    use GestureKind::*;
    &[
        (Stopped, 1, Press, Start),
        (Stopped, 1, Hold, MenuOpen),
        // The press that starts is the same one that opens the menu when it is held: by then the count runs.
        (CountingIn, 1, Press, TapTempo),
        (CountingIn, 1, Hold, MenuOpen),
        (Playing, 1, Tap, NextStage),
        (Playing, 1, Double, StayHere),
        (Playing, 1, Hold, Stop),
        (Menu, 1, Tap, MenuMove),
        (Menu, 1, Hold, MenuTake),
    ]
};

pub(crate) const TWO: &[Line] = {
    use Action::*;
    use FootState::*;
    use GestureKind::*;
    &[
        (Stopped, 1, Press, Start),
        (Stopped, 2, Hold, MenuOpen),
        (CountingIn, 1, Press, TapTempo),
        (CountingIn, 2, Hold, MenuOpen),
        (Playing, 1, Tap, StayHere),
        (Playing, 1, Hold, Stop),
        (Playing, 2, Tap, NextStage),
        (Playing, 2, Hold, NextSection),
        (Menu, 1, Tap, MenuLeave),
        (Menu, 2, Tap, MenuMove),
        (Menu, 2, Hold, MenuTake),
    ]
};

pub(crate) const FOUR: &[Line] = {
    use Action::*;
    use FootState::*;
    use GestureKind::*;
    &[
        (Stopped, 1, Press, Start),
        (Stopped, 2, Tap, PreviousStage),
        (Stopped, 3, Tap, NextStage),
        (Stopped, 3, Hold, NextSection),
        (Stopped, 4, Tap, NextKey),
        (Stopped, 4, Hold, MenuOpen),
        (CountingIn, 1, Hold, Stop),
        (CountingIn, 4, Press, TapTempo),
        (Playing, 1, Tap, StayHere),
        (Playing, 1, Hold, Stop),
        (Playing, 2, Tap, PreviousStage),
        (Playing, 2, Hold, ListenBack),
        (Playing, 3, Tap, NextStage),
        (Playing, 3, Hold, NextSection),
        (Playing, 4, Press, TapTempo),
        (Menu, 1, Tap, MenuLeave),
        (Menu, 3, Tap, MenuMove),
        (Menu, 3, Hold, MenuTake),
    ]
};
