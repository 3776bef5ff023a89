//! The chord while its symbol is being read: what each word adds, and the tones that come of it.

use super::Degree;

/// What makes a chord other than major.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Minor,
    Power,
    Diminished,
    HalfDiminished,
    Dominant,
}

type BuildResult = Result<(), &'static str>;

/// What has been read so far.
#[derive(Debug, Default)]
pub(super) struct Build {
    /// Anything at all was read after the root.
    some: bool,
    kind: Option<Kind>,
    altered: bool,
    /// `maj` or its like was read and no figure has taken it yet.
    major_pending: bool,
    triangle: bool,
    major_word: bool,
    second: bool,
    fourth: bool,
    third_too: bool,
    /// 7, 9, 11 or 13.
    figure: Option<u8>,
    fifths: Vec<i8>,
    sixths: Vec<i8>,
    sevenths: Vec<i8>,
    ninths: Vec<i8>,
    elevenths: Vec<i8>,
    thirteenths: Vec<i8>,
    omitted: Vec<u8>,
}

/// A word says what one before it says: the reader tells which.
pub(super) const TWICE: &str = "this was said already";

fn once(list: &mut Vec<i8>, alter: i8) -> BuildResult {
    if list.contains(&alter) {
        return Err(TWICE);
    }
    list.push(alter);
    Ok(())
}

impl Build {
    /// Nothing was read after the root.
    pub(super) fn is_bare(&self) -> bool {
        !self.some
    }

    /// A minor chord without a figure yet.
    pub(super) fn is_plain_minor(&self) -> bool {
        self.kind == Some(Kind::Minor) && self.figure.is_none()
    }

    fn has_minor_third(&self) -> bool {
        use Kind::{Diminished, HalfDiminished, Minor};
        matches!(self.kind, Some(Minor | Diminished | HalfDiminished))
    }

    fn has_flat_fifth(&self) -> bool {
        matches!(self.kind, Some(Kind::Diminished | Kind::HalfDiminished))
    }

    fn say(&mut self, refused: bool) -> BuildResult {
        self.some |= !refused;
        if refused {
            Err("the quality was said already")
        } else {
            Ok(())
        }
    }

    /// A word for what is not major.
    pub(super) fn kind(&mut self, kind: Kind) -> BuildResult {
        let altered = kind == Kind::Minor && self.altered;
        self.say(self.kind.is_some() || self.major_word || altered)?;
        self.kind = Some(kind);
        if kind == Kind::Diminished
            && let Some(seventh) = self.sevenths.first_mut()
        {
            *seventh = -2;
        }
        Ok(())
    }

    pub(super) fn major(&mut self, triangle: bool) -> BuildResult {
        self.say(self.major_word || self.kind == Some(Kind::Dominant) || self.altered)?;
        (self.major_word, self.triangle, self.major_pending) = (true, triangle, true);
        Ok(())
    }

    pub(super) fn altered(&mut self) -> BuildResult {
        if self.major_word || self.kind.is_some_and(|kind| kind != Kind::Dominant) {
            return Err("an altered chord is a dominant");
        }
        if self.altered {
            return Err(TWICE);
        }
        (self.some, self.altered) = (true, true);
        Ok(())
    }

    pub(super) fn raise_fifth(&mut self) -> BuildResult {
        self.some = true;
        once(&mut self.fifths, 1)
    }

    /// A figure without accidental. `inside` brackets, one that names no seventh only adds its tone.
    pub(super) fn figure(&mut self, number: u8, inside: bool) -> BuildResult {
        let bare = !self.some;
        self.some = true;
        match number {
            5 if bare && !inside => {
                self.kind = Some(Kind::Power);
                Ok(())
            }
            2 => once(&mut self.ninths, 0),
            4 if bare => {
                self.fourth = true;
                Ok(())
            }
            4 => once(&mut self.elevenths, 0),
            6 if self.figure.is_some() => once(&mut self.thirteenths, 0),
            6 => {
                self.major_pending = false;
                once(&mut self.sixths, 0)
            }
            7 | 9 | 11 | 13 => self.extension(number, inside),
            _ => Err("a figure is 2, 4, 5, 6, 7, 9, 11 or 13"),
        }
    }

    fn extension(&mut self, number: u8, inside: bool) -> BuildResult {
        let adds = self.figure.is_some() || !self.sixths.is_empty() || inside;
        if adds && number != 7 && !self.major_pending {
            return self.add(number, 0);
        }
        // `m9(maj7)` is the minor ninth chord with a major seventh.
        let minor = self.kind == Some(Kind::Minor);
        let raised = number == 7 && self.major_pending && minor && self.figure > Some(7);
        if raised && self.sevenths == [-1] {
            self.sevenths.clear();
        }
        if number == 7 && self.figure.is_some() && !self.major_pending {
            return Err(TWICE);
        }
        let seventh = match () {
            () if self.major_pending => 0,
            () if self.kind == Some(Kind::Diminished) => -2,
            () => -1,
        };
        self.major_pending = false;
        self.figure = Some(self.figure.unwrap_or(0).max(number));
        self.seventh(seventh)
    }

    /// A seventh; only a diminished one may have a major one beside it.
    fn seventh(&mut self, alter: i8) -> BuildResult {
        if !self.sevenths.is_empty() && (self.sevenths != [-2] || alter != 0) {
            return Err("the seventh was said already");
        }
        self.sevenths.push(alter);
        Ok(())
    }

    /// An altered tone.
    pub(super) fn alter(&mut self, number: u8, alter: i8) -> BuildResult {
        let bare = self.kind.is_none() && !self.major_word;
        self.some = true;
        match (number, alter) {
            (3, -1) if bare => {
                self.kind = Some(Kind::Minor);
                Ok(())
            }
            (5, -1 | 1) => once(&mut self.fifths, alter),
            (6, -1) => once(&mut self.sixths, alter),
            (7, -1 | -2) => self.seventh(alter),
            (7, 1) => self.seventh(0),
            (2 | 9, -1 | 1) => once(&mut self.ninths, alter),
            (10, -1) => once(&mut self.ninths, 1),
            (4 | 11, 1) => once(&mut self.elevenths, alter),
            (13, -1) => once(&mut self.thirteenths, alter),
            _ => Err("the alterations are b5 #5 b6 b9 #9 #11 b13"),
        }
    }

    /// An added tone.
    pub(super) fn add(&mut self, number: u8, alter: i8) -> BuildResult {
        self.some = true;
        match (number, alter) {
            (2 | 9, 0) => once(&mut self.ninths, 0),
            (4 | 11, 0) => once(&mut self.elevenths, 0),
            (6, 0) if self.figure.is_some() => once(&mut self.thirteenths, 0),
            (6, 0) => once(&mut self.sixths, 0),
            (13, 0) => once(&mut self.thirteenths, 0),
            (7, 0) if self.major_pending => {
                self.major_pending = false;
                self.seventh(0)
            }
            (7, 0) => self.seventh(-1),
            (3, 0) if !self.third_too => {
                self.third_too = true;
                Ok(())
            }
            (5, 0) => once(&mut self.fifths, 0),
            (_, 0) => Err("the tones to add are 2, 3, 4, 5, 6, 7, 9, 11 and 13"),
            _ => self.alter(number, alter),
        }
    }

    pub(super) fn omit(&mut self, number: u8) -> BuildResult {
        self.some = true;
        if !matches!(number, 3 | 5 | 7 | 9 | 11 | 13) {
            return Err("the tones to leave out are 3, 5, 7, 9, 11 and 13");
        }
        if self.omitted.contains(&number) {
            return Err(TWICE);
        }
        self.omitted.push(number);
        Ok(())
    }

    pub(super) fn suspend(&mut self, second: bool, fourth: bool) {
        self.some = true;
        self.second |= second;
        self.fourth |= fourth;
    }

    /// What only the whole symbol can show.
    pub(super) fn check(&self) -> Result<(), String> {
        if self.altered && self.has_minor_third() {
            return Err("an altered chord is a dominant".to_string());
        }
        Ok(())
    }

    /// The tones, in the order 1 2 3 4 5 6 7 9 11 13, flats before sharps.
    pub(super) fn degrees(&self) -> Vec<Degree> {
        let mut tones = vec![(1, 0)];
        self.thirds(&mut tones);
        self.upper_fifths(&mut tones);
        let sevenths = self.all_sevenths();
        // A sixth over a seventh is a thirteenth.
        let sixth = if sevenths.is_empty() { 6 } else { 13 };
        tones.extend(self.sixths.iter().map(|alter| (sixth, *alter)));
        tones.extend(sevenths.iter().map(|alter| (7, *alter)));
        let reaches = |number| self.figure.is_some_and(|figure| figure >= number);
        for (number, list, implied) in [
            (9, &self.ninths, reaches(9)),
            (11, &self.elevenths, self.figure == Some(11) && !self.fourth),
            (13, &self.thirteenths, reaches(13)),
        ] {
            tones.extend(list.iter().map(|alter| (number, *alter)));
            if implied && list.is_empty() {
                tones.push((number, 0));
            }
        }
        if self.altered {
            tones.extend([(9, -1), (9, 1)]);
        }
        // The suspended fourth is the eleventh.
        tones.retain(|tone| !(self.fourth && *tone == (11, 0)));
        tones.retain(|(number, _)| !self.omitted.contains(number));
        tones.sort_unstable();
        tones.dedup();
        tones
            .into_iter()
            .map(|(number, alter)| Degree::new(number, alter))
            .collect()
    }

    fn thirds(&self, tones: &mut Vec<(u8, i8)>) {
        if self.second {
            tones.push((2, 0));
        }
        if self.fourth {
            tones.push((4, 0));
        }
        let without = self.kind == Some(Kind::Power) || self.second || self.fourth;
        if self.third_too || !without {
            tones.push((3, if self.has_minor_third() { -1 } else { 0 }));
        }
    }

    fn upper_fifths(&self, tones: &mut Vec<(u8, i8)>) {
        if self.altered {
            tones.extend([(5, -1), (5, 1)]);
        }
        tones.extend(self.fifths.iter().map(|alter| (5, *alter)));
        if self.has_flat_fifth() {
            tones.push((5, -1));
        } else if self.fifths.is_empty() && !self.altered {
            tones.push((5, 0));
        }
    }

    /// The sevenths, with those that a bare word implies: `dom`, `alt`, `ø`, the triangle, `m(maj)`, `7M`.
    fn all_sevenths(&self) -> Vec<i8> {
        let mut sevenths = self.sevenths.clone();
        if self.major_pending && self.figure.is_some() {
            return vec![0];
        }
        if self.major_pending && (self.triangle || self.has_minor_third()) && sevenths.is_empty() {
            sevenths.push(0);
        }
        let bare = matches!(self.kind, Some(Kind::HalfDiminished | Kind::Dominant)) || self.altered;
        if sevenths.is_empty() && bare {
            sevenths.push(-1);
        }
        sevenths
    }
}
