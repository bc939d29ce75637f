"""What a spoiled score is spoiled with: numbers, words and elements that are hard to read."""

NASTY = (
    *("0", "-1", "1", "2", "3", "7", "8", "9", "16", "255", "256", "-8", "4.5", "0.1", "-0", "+1"),
    *(
        "1/3",
        "0/1",
        "1/0",
        "1e3",
        "1E9",
        ".5",
        "5.",
        ".",
        "",
        " ",
        "\t4\n",
        "\u0663",
        "\uff11",
        "²",
        "1_000",
    ),
    *("0x10", "NaN", "inf", "-inf", "true", "None", "99999", "1000000", "-2147483648"),
    *("999999999999", "9" * 24, "9" * 40, "0." + "3" * 30, "9" * 399, "1" * 401),
    *("C", "H", "c", "CC", "#", "♯", "b", "\u00e9", "\U0001d12b", "&amp;", "&#0;", "&#x1F3B5;"),
    *("&unknown;", "&#xD800;", "]]>", "<![CDATA[4]]>", "<!-- x -->4", "<?x?>", "4<!-- x -->2"),
    *("quarter", "whole", "1024th", "maxima", "start", "stop", "continue", "begin", "end", "no"),
    *("up", "down", "above", "below", "G", "F", "percussion", "TAB", "none", "major", "dorian"),
    *("1,2", "1, 3", "1-3", "2, 1, x", "forward", "backward", "discontinue", "let-ring", "D.C."),
    *("D.S. al Coda", "Fine", "To Coda", "D.C. al Fine", "al Fine", "rit.", "a tempo", "Allegro"),
    *("gliss.", "8va", "loco", "F\u266f G\u266d", "C# D F#", "DCB|EFGA", "p.d.l.t.", "harmonic"),
    *("leverwright.preset", "leverwright.tones.C#", "lw-1", "P1", "P2", "Harp", "harpa", "Piano"),
)
"""What stands where a number or a word is expected."""
OWN_IDS = """
    cue.1.C4.up.left.0.1.all cue.1.C4.down.right.1.1_2.1-2 cue.x.C4.up.left.0.1.all
    cue.1.C4.high.left.0.1.all cue.1.C4.up.foot.0.1.all cue.1.C4.up.left.0.1_0.all
    cue.1.Z9.up.left.-9.1.all cue.1.C4.up.left.0.1.0-x cue.1.C4.up.left.x.y.z
    cue.1.C4.up.left.99999.7.all setting legend open.1.Gs4 open.x.Q open open.1.
    take-left.2.C4-E4 take-right.3.Cs held.1.C4-D4 foreign.1.F4 tones.1.Cs4-D4-E4
    tones.1.C4-C4 tones.1.Csssssssssssssss4 bracket.x tempo state.1
"""
"""Ids of our own directions, and what looks like them."""
SNIPPETS = (
    "<chord/>",
    "<grace/>",
    '<grace slash="yes"/>',
    "<cue/>",
    "<rest/>",
    '<rest measure="yes"/>',
    "<dot/>",
    "<note/>",
    "<note><rest/></note>",
    "<note><grace/><pitch><step>B</step><alter>-2</alter><octave>3</octave></pitch></note>",
    "<note><chord/><pitch><step>E</step><octave>9</octave></pitch><duration>1</duration></note>",
    "<note><unpitched/><duration>1</duration></note>",
    "<backup><duration>1</duration></backup>",
    "<backup><duration>100000</duration></backup>",
    "<backup/>",
    "<forward><duration>3</duration><voice>2</voice></forward>",
    "<forward/>",
    "<attributes/>",
    "<attributes><divisions>5</divisions></attributes>",
    "<attributes><key><fifths>-11</fifths></key></attributes>",
    "<attributes><key><key-step>F</key-step><key-alter>1</key-alter></key></attributes>",
    "<attributes><key><cancel>2</cancel><fifths>0</fifths><mode>minor</mode></key></attributes>",
    "<attributes><time><senza-misura/></time></attributes>",
    "<attributes><time><beats>3+2</beats><beat-type>8</beat-type></time></attributes>",
    "<attributes><time><beats>0</beats><beat-type>0</beat-type></time></attributes>",
    "<attributes><staves>3</staves></attributes>",
    "<attributes><transpose><chromatic>-2</chromatic></transpose></attributes>",
    ("<attributes><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic>"
    "<octave-change>1</octave-change></transpose></attributes>"),
    '<attributes><clef number="2"><sign>C</sign><line>9</line></clef></attributes>',
    ("<attributes><clef><sign>G</sign><clef-octave-change>-3</clef-octave-change></clef>"
    "</attributes>"),
    '<attributes><measure-style><multiple-rest>4</multiple-rest></measure-style></attributes>',
    ('<attributes><measure-style><measure-repeat type="start">2</measure-repeat></measure-style>'
    "</attributes>"),
    '<barline><repeat direction="forward"/></barline>',
    '<barline><repeat direction="backward"/></barline>',
    '<barline location="right"><repeat direction="backward" times="9"/></barline>',
    '<barline location="left"><ending number="1" type="start"/></barline>',
    '<barline><ending number="1,2" type="stop"/><repeat direction="backward"/></barline>',
    '<barline><ending number="" type="discontinue"/></barline>',
    "<barline><fermata/></barline>",
    '<sound dacapo="yes"/>',
    '<sound dalsegno="x"/>',
    '<sound segno="x"/>',
    '<sound tocoda="c"/>',
    '<sound coda="c"/>',
    '<sound fine="yes"/>',
    '<sound tempo="0"/>',
    '<sound tempo="88.5" time-only="2"/>',
    '<sound forward-repeat="yes"/>',
    "<sound><swing><straight/></swing></sound>",
    "<direction><direction-type><segno/></direction-type></direction>",
    "<direction><direction-type><coda/></direction-type></direction>",
    "<direction><direction-type><words>D.S. al Coda</words></direction-type></direction>",
    "<direction><direction-type><words>Fine</words></direction-type></direction>",
    ("<direction><direction-type><words>F\u266f, B\u266d</words></direction-type>"
    "<offset>-9</offset><staff>2</staff></direction>"),
    ("<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
    "<per-minute>c. 60-66</per-minute></metronome></direction-type></direction>"),
    ("<direction><direction-type><metronome><beat-unit>quarter</beat-unit>"
    "<beat-unit>half</beat-unit></metronome></direction-type></direction>"),
    ("<direction><direction-type><metronome><metronome-note><metronome-type>eighth"
    "</metronome-type></metronome-note></metronome></direction-type></direction>"),
    '<direction><direction-type><octave-shift type="down" size="8"/></direction-type></direction>',
    ('<direction><direction-type><octave-shift type="stop" size="15"/></direction-type>'
    "</direction>"),
    '<direction><direction-type><wedge type="crescendo"/></direction-type></direction>',
    '<direction><direction-type><dashes type="start" number="2"/></direction-type></direction>',
    ("<direction><direction-type><harp-pedals><pedal-tuning><pedal-step>F</pedal-step>"
    "<pedal-alter>1</pedal-alter></pedal-tuning></harp-pedals></direction-type></direction>"),
    "<direction><direction-type><harp-pedals/></direction-type></direction>",
    "<direction/>",
    *(
        f'<direction id="leverwright.{own}"><direction-type><words>F\u266f</words>'
        "</direction-type><staff>1</staff></direction>"
        for own in OWN_IDS.split()
    ),
    "<direction><direction-type/></direction>",
    "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>",
    "<harmony><numeral><numeral-root>9</numeral-root></numeral><kind/></harmony>",
    ("<harmony><function>V</function><kind>dominant</kind><bass><bass-step>Q</bass-step></bass>"
    "<degree><degree-value>9</degree-value><degree-alter>1</degree-alter>"
    "<degree-type>add</degree-type></degree></harmony>"),
    "<figured-bass><figure/></figured-bass>",
    '<print new-system="yes"/>',
    "<print><measure-numbering>none</measure-numbering></print>",
    '<tie type="start"/>',
    '<tie type="stop"/>',
    ("<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
    "</time-modification>"),
    ("<time-modification><actual-notes>0</actual-notes><normal-notes>0</normal-notes>"
    "</time-modification>"),
    '<notations><tied type="start"/><tied type="stop"/></notations>',
    '<notations><glissando type="start" number="1">gliss.</glissando></notations>',
    '<notations><slide type="stop"/></notations>',
    '<notations><arpeggiate direction="down"/><non-arpeggiate type="top"/></notations>',
    ("<notations><ornaments><trill-mark/><accidental-mark>sharp</accidental-mark>"
    '<tremolo type="start">9</tremolo></ornaments></notations>'),
    ('<notations><ornaments><wavy-line type="start"/><delayed-turn/><mordent long="yes"/>'
    "</ornaments></notations>"),
    ("<notations><technical><harmonic><natural/></harmonic><fingering>5</fingering>"
    "<string>1</string><fret>2</fret></technical></notations>"),
    '<notations><slur type="start" number="6"/><slur type="stop" number="6"/></notations>',
    '<notations><tuplet type="start"/><fermata/><dynamics><sf/></dynamics></notations>',
    "<notations/>",
    "<accidental>quarter-flat</accidental>",
    '<accidental parentheses="yes">double-sharp</accidental>',
    "<alter>0.5</alter>",
    "<alter>-3</alter>",
    "<instrument/>",
    '<instrument id="I1"/>',
    "<staff>2</staff>",
    "<voice/>",
    "<duration>0</duration>",
    "<duration>1</duration>",
    "<type>eighth</type>",
    '<beam number="1">begin</beam>',
    '<lyric><elision/><text>a</text></lyric>',
    "<notehead>none</notehead>",
    '<listening><sync type="tempo"/></listening>',
    '<part-group type="start" number="1"/>',
    '<score-part id="P9"><part-name>Harp</part-name></score-part>',
    '<part id="P9"><measure number="1"/></part>',
    '<measure number="0" implicit="yes"/>',
    "<measure/>",
    "<credit><credit-words>x</credit-words></credit>",
    ("<identification><miscellaneous><miscellaneous-field name=\"leverwright.harp\">x"
    "</miscellaneous-field></miscellaneous></identification>"),
    "<!-- <note> -->",
    "<?break?>",
    "<![CDATA[<note>]]>",
    "<x:note xmlns:x='y'/>",
)  # fmt: skip
"""Elements that change what stands around them."""
