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
.estimate,.series{stroke:#1a2127;stroke-width:2;fill:none;stroke-linejoin:round}\
.tick{stroke:#1a2127;stroke-width:1.25}\
.model{stroke:#009e73;stroke-width:2;stroke-dasharray:7 4;fill:none}\
.series-2{stroke:#0072b2;stroke-dasharray:9 4}\
.series-3{stroke:#d55e00;stroke-dasharray:2.5 3}\
.series-4{stroke:#009e73;stroke-dasharray:13 3 2.5 3}\
.series-5{stroke:#566069;stroke-dasharray:5 2}\
.series-6{stroke-dasharray:.5 5;stroke-linecap:round}\
.mark{stroke:#1a2127;stroke-width:1.5;stroke-dasharray:1.5 3.5;stroke-linecap:round;fill:none}\
.whisker{stroke:#1a2127;stroke-width:1.5;fill:none}\
.diamond{fill:#1a2127;stroke:#fff}\
.point{fill:#fff;stroke:#1a2127;stroke-width:1.5}\
.at{fill:#1a2127}";
