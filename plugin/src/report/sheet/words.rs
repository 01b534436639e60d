//! Fixed words of the sheet: wiring, outputs, place, tests, cautions.

/// How the connectors are wired.
pub(super) fn wiring(balanced: bool) -> &'static str {
    if balanced {
        "<h2>Wiring</h2>\n<ul class=\"plain\">\n\
         <li>XLR (AES14): pin 2 is hot, pin 3 is cold, pin 1 is the screen. The pad\u{2019}s input is a \
         female connector, its output a male one.</li>\n\
         <li>Pin 1 goes to the shell at each connector, by the shortest wire (AES48), and on from input to \
         output; a metal housing joins the shells. No resistor touches it.</li>\n\
         <li>TRS jack: tip is hot, ring is cold, sleeve is the screen.</li>\n\
         <li>From an unbalanced output (RCA, TS): tip to pin 2, sleeve to pin 3, the cable\u{2019}s screen to \
         pin 1 at the pad only. This balanced pad still works: its loss is the same.</li>\n</ul>\n"
    } else {
        "<h2>Wiring</h2>\n<ul class=\"plain\">\n\
         <li>This pad is unbalanced: tip of RCA or TS is hot, sleeve is the common side. On an XLR (AES14) \
         pin 2 is hot, pin 3 is cold, pin 1 is the screen.</li>\n\
         <li>At an XLR end the common side is pin 3; join pin 3 and pin 1 at the unbalanced source only.</li>\n\
         <li>Pin 1 goes to the shell at each connector, by the shortest wire (AES48).</li>\n\
         <li>It rejects no hum. Where both ends can be balanced, build the balanced form.</li>\n</ul>\n"
    }
}

/// Where it stands, and what helps against hum.
pub(super) fn place(before_microphone_input: bool) -> String {
    let end = if before_microphone_input {
        "At the preamplifier\u{2019}s end: the long run carries line level, the short one after the pad is what \
         picks up hum."
    } else {
        "At the converter\u{2019}s end: its output impedance is higher than the preamplifier\u{2019}s, so the \
         cable after it stays short."
    };
    format!(
        "<h2>Place</h2>\n<ul class=\"plain\">\n<li>{end}</li>\n\
         <li>Hum that comes with two grounded devices: a 1:1 line transformer before the pad (line level, \
         600 ohm or 10 kohm type, rated for the level). <b>Never lift a safety earth.</b></li>\n</ul>\n"
    )
}

/// Types of outputs and their cold pin. Common practice, no source.
pub(super) const OUTPUTS: &str = "\
<h2>The output that drives it</h2>\n<table class=\"figures\"><thead><tr><th scope=\"col\">line output</th>\
<th scope=\"col\" class=\"words\">pin 3 grounded?</th></tr></thead>\n<tbody>\n\
<tr><th scope=\"row\">transformer</th><td class=\"words\">may be, and must be where what follows is \
unbalanced</td></tr>\n\
<tr><th scope=\"row\">cross-coupled</th><td class=\"words\">may be, at the output\u{2019}s own end only</td></tr>\n\
<tr><th scope=\"row\">impedance-balanced</th><td class=\"words\">may be; it carries no signal</td></tr>\n\
<tr><th scope=\"row\">push-pull (two drivers)</th><td class=\"words\"><b>must not be</b>: it shorts a driver. \
Take pin 2 against pin 1, leave pin 3 open; the level is 6 dB lower</td></tr>\n</tbody></table>\n\
<p class=\"small\">Common practice, no source. The device\u{2019}s handbook goes before this table. A balanced \
pad grounds neither pin, and suits all four.</p>\n";

/// Before the table of resistances.
pub(super) const TEST_OHMS: &str = "\
<p>1. Resistance, nothing else connected. The limits allow every resistor its tolerance; add the \
meter\u{2019}s own error and its leads.</p>\n";

/// Before the table of levels.
pub(super) fn test_levels(before_microphone_input: bool) -> &'static str {
    if before_microphone_input {
        "<p>2. Level of a 1 kHz sine at both connectors, pins 2 to 3, with output and preamplifier connected, \
         phantom power off. The loss must be the same at both levels.</p>\n"
    } else {
        "<p>2. Level of a 1 kHz sine at both connectors, pins 2 to 3, with preamplifier and converter \
         connected. The loss must be the same at both levels.</p>\n"
    }
}

/// The third test.
pub(super) const TEST_POLARITY: &str = "\
<p>3. Polarity: send a pulse with its tall side positive (a half sine and a long, low return). On an \
oscilloscope, or in the recording, the tall side must be positive on pin 2 at the input and at the output.</p>\n";

/// What can go wrong and hurt. Without the pad, everything is louder by its loss.
pub(super) fn cautions(before_microphone_input: bool, loss_db: f64) -> String {
    let phantom = if before_microphone_input {
        "<li>Phantom power off, wait until it has bled away (a minute, or measure it), monitors muted, then \
         patch. This pad does not keep 48 V from the line output.</li>\n\
         <li>No phantom power on a patch bay with TRS jacks: a plug shorts it while it moves.</li>\n"
    } else {
        "<li>Monitors muted, then patch. Without this pad the converter is driven past full scale.</li>\n"
    };
    format!(
        "<div class=\"warn\"><h2>Cautions</h2>\n<ul>\n{phantom}\
         <li>A wrong or shorted pad can make the monitors {loss_db:.0} dB louder than a moment ago: begin low.</li>\n\
         <li>Resistors get warm at line level: keep the ratings, leave air around them.</li>\n\
         <li>Tube equipment holds lethal voltages, also after it is switched off. Nothing here needs its \
         cover off; work inside is for a licensed technician under the local codes.</li>\n</ul></div>\n"
    )
}
