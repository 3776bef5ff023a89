//! What is told about another version of the program: data; words are made of it where it is shown or said.

/// A version that may be installed: it is whole, newer, for this box, and signed by whom the box trusts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UpdateOffer {
    /// As the package has it ("0.2.0+202612010900").
    pub version: String,
    /// Whether it lies on a stick.
    pub on_stick: bool,
}

/// Something about another version.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum UpdateNews {
    /// It was found; none: it is not there any more.
    Offered(Option<UpdateOffer>),
    /// It was handed over: root installs it now, and the program begins again.
    Begun(UpdateOffer),
    /// One that was found, or chosen, may not be installed: why, a line each.
    Refused(Vec<String>),
    /// What came of an installation: whether it is in, and how that is told.
    Done { is_in: bool, told: String },
}
