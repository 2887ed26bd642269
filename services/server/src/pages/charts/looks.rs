//! The looks of a chart file that has no page around it.

/// Rules for the classes that drawings use, in the style sheet's light colours.
pub(super) const STANDALONE: &str = "\
.paper{fill:#fff}\
text{font:13px system-ui,sans-serif;fill:#1a2127}\
.soft{fill:#566069}\
.head{font-weight:600}\
.grid{stroke:#e3e7ea;fill:none}\
.axis{stroke:#7b868f;fill:none}\
.band{fill:#e2e6e9;stroke:#8a949c;stroke-width:.75}\
.estimate{stroke:#1a2127;stroke-width:2;fill:none;stroke-linejoin:round}\
.tick{stroke:#1a2127;stroke-width:1.25}\
.model{stroke:#009e73;stroke-width:2;stroke-dasharray:7 4;fill:none}\
.mark{stroke:#1a2127;stroke-width:1.5;stroke-dasharray:1.5 3.5;stroke-linecap:round;fill:none}\
.whisker{stroke:#1a2127;stroke-width:1.5;fill:none}\
.diamond{fill:#1a2127;stroke:#fff}\
.point{fill:#fff;stroke:#1a2127;stroke-width:1.5}\
.at{fill:#1a2127}";
