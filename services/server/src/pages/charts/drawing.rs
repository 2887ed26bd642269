//! Writes SVG elements with classes, in drawing units of one CSS pixel.

use super::looks;

/// Which side of its place a text stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

impl Anchor {
    const fn attribute(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

/// Where a drawing is going to be seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// In a page, seen on wide screens and in print.
    Wide,
    /// In a page, seen on narrow screens.
    Narrow,
    /// In a file of its own, with its looks inside.
    File,
}

impl Place {
    pub(super) const fn suffix(self) -> &'static str {
        match self {
            Self::Wide => "wide",
            Self::Narrow => "narrow",
            Self::File => "file",
        }
    }
}

/// The growing inside of one SVG element.
#[derive(Debug, Default)]
pub(super) struct Drawing {
    body: String,
}

impl Drawing {
    pub(super) fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        self.body.push_str(&format!(
            "<path class=\"{class}\" d=\"M{} {}L{} {}\"/>",
            pixel(from.0),
            pixel(from.1),
            pixel(to.0),
            pixel(to.1)
        ));
    }

    pub(super) fn path(&mut self, class: &str, trace: &Trace) {
        if !trace.data.is_empty() {
            self.body
                .push_str(&format!("<path class=\"{class}\" d=\"{}\"/>", trace.data));
        }
    }

    pub(super) fn rectangle(&mut self, class: &str, corner: (f64, f64), size: (f64, f64)) {
        self.body.push_str(&format!(
            "<rect class=\"{class}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
            pixel(corner.0),
            pixel(corner.1),
            pixel(size.0.max(0.0)),
            pixel(size.1.max(0.0))
        ));
    }

    pub(super) fn circle(&mut self, class: &str, centre: (f64, f64), radius: f64) {
        self.body.push_str(&format!(
            "<circle class=\"{class}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
            pixel(centre.0),
            pixel(centre.1),
            pixel(radius)
        ));
    }

    /// From here to [`Self::close_window`] nothing is drawn outside the rectangle.
    pub(super) fn open_window(&mut self, corner: (f64, f64), size: (f64, f64)) {
        let (x, y) = (pixel(corner.0), pixel(corner.1));
        let (width, height) = (pixel(size.0), pixel(size.1));
        self.body.push_str(&format!(
            "<svg x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"{x} {y} {width} {height}\">"
        ));
    }

    pub(super) fn close_window(&mut self) {
        self.body.push_str("</svg>");
    }

    /// A square stood on its corner.
    pub(super) fn diamond(&mut self, class: &str, centre: (f64, f64), reach: f64) {
        let (x, y) = centre;
        let mut trace = Trace::default();
        trace.move_to((x - reach, y));
        trace.line_to((x, y - reach));
        trace.line_to((x + reach, y));
        trace.line_to((x, y + reach));
        trace.close();
        self.path(class, &trace);
    }

    pub(super) fn text(&mut self, class: &str, place: (f64, f64), anchor: Anchor, words: &str) {
        let class = if class.is_empty() {
            String::new()
        } else {
            format!(" class=\"{class}\"")
        };
        self.body.push_str(&format!(
            "<text{class} x=\"{}\" y=\"{}\" text-anchor=\"{}\">{}</text>",
            pixel(place.0),
            pixel(place.1),
            anchor.attribute(),
            escape(words)
        ));
    }

    /// Closes the drawing with its name and its description.
    pub(super) fn finish(self, frame: &Caption<'_>, place: Place) -> String {
        let (width, height) = frame.size;
        let id = format!("{}-{}", frame.id, place.suffix());
        let title = escape(frame.title);
        let description = escape(frame.description);
        let (opening, looks) = match place {
            Place::File => (
                format!(
                    "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}\" height=\"{}\"",
                    pixel(width),
                    pixel(height)
                ),
                format!(
                    "<style>{}</style><rect class=\"paper\" width=\"100%\" height=\"100%\"/>",
                    looks::STANDALONE
                ),
            ),
            Place::Wide | Place::Narrow => (
                format!("<svg class=\"{} for-{}\"", frame.class, place.suffix()),
                String::new(),
            ),
        };
        format!(
            "{opening} viewBox=\"0 0 {} {}\" role=\"img\" aria-labelledby=\"{id}-t\" \
             aria-describedby=\"{id}-d\"><title id=\"{id}-t\">{title}</title>\
             <desc id=\"{id}-d\">{description}</desc>{looks}{}</svg>",
            pixel(width),
            pixel(height),
            self.body
        )
    }
}

/// What a finished drawing says about itself.
#[derive(Debug, Clone, Copy)]
pub(super) struct Caption<'a> {
    /// Unique within a page.
    pub(super) id: &'a str,
    pub(super) class: &'a str,
    pub(super) title: &'a str,
    pub(super) description: &'a str,
    pub(super) size: (f64, f64),
}

/// The commands of one path.
#[derive(Debug, Default)]
pub(super) struct Trace {
    data: String,
}

impl Trace {
    pub(super) fn move_to(&mut self, to: (f64, f64)) {
        self.data
            .push_str(&format!("M{} {}", pixel(to.0), pixel(to.1)));
    }

    pub(super) fn line_to(&mut self, to: (f64, f64)) {
        self.data
            .push_str(&format!("L{} {}", pixel(to.0), pixel(to.1)));
    }

    pub(super) fn across_to(&mut self, x: f64) {
        self.data.push_str(&format!("H{}", pixel(x)));
    }

    pub(super) fn down_to(&mut self, y: f64) {
        self.data.push_str(&format!("V{}", pixel(y)));
    }

    pub(super) fn close(&mut self) {
        self.data.push('Z');
    }

    /// A line through the places, in order.
    pub(super) fn through(places: impl IntoIterator<Item = (f64, f64)>) -> Self {
        let mut trace = Self::default();
        for (number, place) in places.into_iter().enumerate() {
            if number == 0 {
                trace.move_to(place);
            } else {
                trace.line_to(place);
            }
        }
        trace
    }
}

/// A tenth of a pixel is finer than any screen shows.
fn pixel(value: f64) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let text = format!("{value:.1}");
    match text.strip_suffix(".0") {
        Some("-0") => "0".to_owned(),
        Some(whole) => whole.to_owned(),
        None => text,
    }
}

/// Makes words safe between the tags of markup.
pub(super) fn escape(words: &str) -> String {
    let mut safe = String::with_capacity(words.len());
    for letter in words.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            other => safe.push(other),
        }
    }
    safe
}
