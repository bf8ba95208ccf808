/** The lists: each a table with its own heading; every timecode leads to its place in the film. */
function placeLink(at, text) {
  return make("a.time", { href: "#film", onclick: (event) => { event.preventDefault(); strip.go(at); byId("film").scrollIntoView(); strip.body.focus({ preventScroll: true }); } }, text);
}

function table(headings, rows, empty) {
  if (!rows.length) return make("p.plain", {}, empty);
  return make("div.wide", { tabIndex: 0, role: "region", "aria-label": headings.filter(Boolean).join(", ") },
    make("table", {}, make("thead", {}, make("tr", {}, headings.map((one) => make("th", { scope: "col" }, one || make("span.unseen", {}, "to tick"))))),
      make("tbody", {}, rows.map((cells) => make("tr", {}, cells.map((cell) => make("td", { dir: "auto" }, cell)))))));
}

function listPart(id, title, words, ...content) {
  return make("section.list", { id, "aria-labelledby": `${id}-title` }, make("h2", { id: `${id}-title` }, title), words ? make("p.lead", {}, words) : null, ...content);
}

function hiddenPart(rows) {
  return listPart("hidden", "For the producer: hidden edits",
    "Places where the viewer cannot see that speech was cut. Whether what results is fair to the person who spoke is for you, your producer and your house’s editorial code.",
    table(["at", "who", "taken out", "what was said there", "under"],
      rows.map((row) => [placeLink(row.at, row.time), named(row.who), row.turned ? "order turned round" : `${row.seconds.toFixed(1)} s`,
        row.words ? make("span.quote", {}, folded(row.words)) : "–", row.under ? named(row.under) : "–"]),
      "No jump in speech lies under another picture."));
}

function pickUpPart(rows, unfilmed) {
  const box = () => make("span.box", { "aria-hidden": "true" });
  const sheet = table(["", "at", "what", "seconds", "why", "words"],
    rows.map((row) => [box(), placeLink(row.at, row.time), row.subjects.length ? row.subjects.map((one) => make("span.subject", {}, one)) : "any cutaway",
      row.seconds.toFixed(1), row.why, make("span.quote", {}, row.words)]),
    "Nothing is missing: every place that should have a shot has one.");
  const asked = unfilmed.length ? make("p.plain", {}, "Spoken of and never filmed: ",
    unfilmed.map((row, place) => [place ? ", " : "", make("q", {}, row.word), ` (${row.times} times, first at ${row.time})`]), ".") : null;
  return listPart("pick-ups", "To film on the next shooting day", `${page.film.name}: shots that this film lacks. Print this part alone: it is made for the clipboard.`, sheet, asked,
    rows.length ? make("p.no-print", {}, make("button.act", { type: "button", onclick: () => printPart("pick-ups") }, "Print this sheet")) : null);
}

function printPart(id) {
  document.body.dataset.print = id;
  print();
  delete document.body.dataset.print;
}

function faultPart(rows) {
  return listPart("picture", "Faults of the picture", "",
    table(["at", "what"], rows.map((row) => [placeLink(row.at, row.time), row.what]), "None was found."));
}

function mixPart(mix) {
  const whole = mix.whole;
  const parts = [];
  if (whole) parts.push(table(["whole film", "loudness", "range", "true peak"], ["before", "after"].map((name) => {
    const row = whole[name];
    return [name, figure(row.integrated_lufs, "LUFS"), figure(row.range_lu, "LU"), figure(row.peak_dbtp, "dBTP")];
  }), ""), make("p.plain", {}, `To ${figure(whole.target_lufs, "LUFS")}: ${whole.gain_to_target_db === null ? "no gain is told, since sound files cannot be heard" : `${whole.gain_to_target_db > 0 ? "+" : ""}${figure(whole.gain_to_target_db, "dB")}`}`));
  parts.push(table(["from", "seconds", "in front", "loudest beneath", "wanted", "before", "after", "music up"],
    mix.passages.map((row) => [placeLink(row.at, row.time), row.seconds.toFixed(1), row.kind, row.loudest || "nothing", figure(row.target_lu, "LU"),
      figure(row.before_lu, "LU"), figure(row.after_lu, "LU"), row.music_up ? placeLink(row.music_up_at, row.music_up) : "–"]),
    "Nothing sounds under speech."));
  return listPart("mix", "The mix", "How far speech lies above the loudest sound beneath it.", ...parts);
}

function notePart(rows) {
  return listPart("notes", "Notes", "",
    table(["at", "what"], rows.map((row) => [row.at === null ? "–" : placeLink(row.at, row.time), [row.needs_editor ? make("strong", {}, "look: ") : "", row.text]]), "Nothing to add."));
}
