//! What comes in. Words are the field's and ASCII: degrees "b3", keys "G minor", places "2&", as in lines for programs.

/// Something that happened, and when: milliseconds since the boot.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// A take begins.
    Begin(TakeBegin),
    /// Another stage is practised.
    Stage {
        name: String,
        at_ms: i64,
    },
    Verdict(VerdictOn),
    Choice(ChosenNotes),
    Act(Act),
    /// The take has ended.
    End {
        at_ms: i64,
    },
}

/// A take that begins.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TakeBegin {
    pub at_ms: i64,
    /// Whose practice it is.
    pub player: String,
    /// The chart's title.
    pub chart: String,
    /// The drill's title.
    pub drill: String,
}

/// What became of one note that was asked for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct VerdictOn {
    /// When it became known.
    pub at_ms: i64,
    /// The degree that was asked for.
    pub degree: String,
    /// The quality of its chord: "minor 7", "half-diminished".
    pub quality: String,
    /// The key of the tune as it was played; empty where it is not known.
    pub key: String,
    /// The root of the chord.
    pub root: String,
    /// The place in the bar.
    pub place: String,
    /// The region of the neck, where the stage fixes one: "position 5", "one string"; else empty.
    pub region: String,
    /// Quarter notes a minute.
    pub tempo_qpm: f64,
    /// right, octave, wrong, missed, not judged.
    pub result: &'static str,
    /// in time, early, late, pushed; empty where nothing was played.
    pub timing: &'static str,
    /// Lateness; negative is early.
    pub late_ms: Option<f64>,
    /// A wrong note that was put right in time.
    pub found: bool,
}

/// What the foot did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Act {
    pub at_ms: i64,
    /// The switch, from 1.
    pub switch: u8,
    pub gesture: &'static str,
    /// The action's word; empty where the gesture meant nothing.
    pub action: &'static str,
}

/// What was chosen in a pass where the stage leaves the choice: counted, not judged.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ChosenNotes {
    pub at_ms: i64,
    pub notes: u32,
    /// The degrees, each once, in the order in which they came, parted by spaces.
    pub degrees: String,
    pub octaves: u32,
    /// Positions of the hand.
    pub positions: u32,
    /// Half beats that notes began on.
    pub beats: u32,
    pub off_beats: u32,
    /// Different beginnings over a chord.
    pub orders: u32,
    /// Notes in a phrase that came before in this pass.
    pub repeated: u32,
}
