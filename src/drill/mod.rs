//! Drills: stages of restriction, their figures and places, and the target notes that come of them.

mod model;
mod targets;

pub use model::{
    Advance, Click, Comping, Cycle, DegreeWord, Direction, Drill, Drums, Each, FigureNote, Help,
    Model, Names, Order, PageHelp, Place, Places, Stage, StringRule, Voice,
};
pub use targets::{LapChordView, LayOut, TargetNote, TargetSet, lay_out};
