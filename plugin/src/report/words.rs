//! The standing texts of a report: its job, how to read it, cautions.

/// What a comparison is for.
pub const JOB: &str = "\
<p>Each setting sends the same recording at line level through its pad into the preamplifier and \
back. All are trimmed to the loudness of the source, so what differs is the sound and not the \
level.</p>
";

/// How the figures are meant.
pub const HOW_TO_READ: &str = "\
<section id=\"reading\">
<h2>How to read</h2>
<dl class=\"terms\">
<div><dt>dBFS</dt><dd>A full-scale sine is 0\u{a0}dBFS, in RMS too (AES17). Peaks are sample peaks.</dd></div>
<div><dt>dBu, volts</dt><dd>0\u{a0}dBu is 0.775\u{a0}V. Volts are RMS unless peak is said.</dd></div>
<div><dt>Peak as a sine</dt><dd>Ceilings are stated for sines, so a peak is drawn as the sine of \
the same peak: a peak that just meets a ceiling in the diagram just meets it in the wire.</dd></div>
<div><dt>Ceiling</dt><dd>The sine at which this point clips or distorts, counting only what lies \
before it. Headroom is the ceiling less the peak.</dd></div>
<div><dt>Loss</dt><dd>Loss into this preamp is volts at the pad\u{2019}s input over volts at the \
preamp\u{2019}s input. A positive loss is a reduction.</dd></div>
<div><dt>THD, H2 to H5</dt><dd>Of a 1\u{a0}kHz sine with the programme\u{2019}s peak at the bus: \
what the loudest moment meets. Harmonics are stated against the fundamental.</dd></div>
<div><dt>Trim</dt><dd>A fixed gain after the return, measured over the whole recording (ITU-R \
BS.1770). Nothing rides the gain and nothing limits.</dd></div>
<div><dt>Loaded and unloaded</dt><dd>A converter\u{2019}s full scale is stated into 10\u{a0}k\u{3a9} \
or more; a pad loads the output and lowers it a little. The line out row holds what is left.</dd></div>
</dl>
</section>
";

/// The usual cautions of the trade.
pub const CAUTIONS: &str = "\
<section id=\"cautions\">
<h2>Cautions</h2>
<ul class=\"plain\">
<li>Tube equipment holds lethal voltages, also for a while after it is switched off. Work inside \
it belongs to a licensed technician and to the electrical codes of the place.</li>
<li>Before a line output is patched into a microphone input: phantom power off, wait until it has \
bled away, monitors muted, then patch. A pad does not by itself keep phantom power from the line \
output.</li>
<li>A wrong pad, trim or gain can make a sudden loud sound. Begin with the monitors low, the more \
so with headphones.</li>
<li>A hot line level warms a pad. Use resistors rated for at least twice the power they meet.</li>
<li>Never lift a safety earth against hum; a line transformer is the remedy.</li>
</ul>
</section>
";
