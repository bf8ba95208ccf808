/** The lists: each a table with its own heading; every timecode leads to its place in the film. */
function placeLink(at, text) {
  return make("a.time", { href: "#film", onclick: (event) => { event.preventDefault(); strip.go(at); byId("film").scrollIntoView(); strip.body.focus({ preventScroll: true }); } }, text);
}

function table(headings, rows, empty, about = "") {
  if (!rows.length) return make("p.plain", {}, empty);
  const part = (role) => ({ role });  // told apart from their looks: on a narrow screen rows stand as blocks
  return make("div.wide", { tabIndex: 0, role: "region", "aria-label": [about, ...headings].filter(Boolean).join(", ") },
    make("table", part("table"), make("thead", part("rowgroup"), make("tr", part("row"), headings.map((one) => make("th", { scope: "col", role: "columnheader" }, one || make("span.unseen", {}, "to tick"))))),
      make("tbody", part("rowgroup"), rows.map((cells) => make("tr", part("row"), cells.map((cell, place) => make("td", { dir: "auto", role: "cell", "data-head": headings[place] || null }, make("div", {}, cell))))))));
}

function listPart(id, title, words, ...content) {
  return make("section.list", { id, "aria-labelledby": `${id}-title` }, make("h2", { id: `${id}-title` }, title), words ? make("p.lead", {}, words) : null, ...content);
}

/** Choices that no card above shows: what was refused, never clips, words; each can be taken back. */
function standingPart() {
  const body = make("div");
  const part = listPart("standing", "Decided besides", "What was chosen for places that stand in no list above. The next plan obeys it all the same.", body);
  const back = (label, act) => make("button.act", { type: "button", onclick: () => { act(); say(`${label}: taken back`); } }, "Take back");
  const show = () => {
    const shown = new Set([...cards.flatMap((card) => [card.row.name_of, card.row.pause_name]), ...(page.lists.levels || []).map((row) => row.name_of)]);
    const rows = LISTS.flatMap((list) => choices.now[list].filter((row) => !shown.has(row.name)).map((row) =>
      [row.about || row.name, row.clip && row.choice !== "refused" ? `${row.choice}: ${row.clip}` : row.choice, back(row.about || row.name, () => choices.drop(list, row.name))]));
    for (const clip of choices.now.never) rows.push([clip, "never laid", back(clip, () => choices.never(clip, false))]);
    for (const [tag, words] of Object.entries(choices.now.means))
      for (const word of words) rows.push([make("q", {}, word), ["is shown by ", named(tag)], back(word, () => choices.means(tag, word, false))]);
    part.hidden = !rows.length;
    body.replaceChildren(table(["what", "decided", "undo"], rows, ""));
  };
  choices.watchers.push(show);
  show();
  return part;
}

function hiddenPart(rows) {
  return listPart("hidden", "For the producer: hidden edits",
    "Places where the viewer cannot see that speech was cut. Whether what results is fair to the person who spoke is for you, your producer and your house’s editorial code.",
    table(["at", "who", "taken out", "what was said there", "under"],
      rows.map((row) => [placeLink(row.at, row.time), named(row.who), row.turned ? "order turned round" : `${row.seconds.toFixed(1)} s`,
        row.words ? make("span.quote", {}, folded(row.words), asHeard(row)) : row.elsewhere ? "played elsewhere" : "–", row.under ? named(row.under) : "–"]),
      "No jump in speech lies under another picture."));
}

/** One subject with the sizes it lacks, and every place that waits for it: each with a box to tick. */
function wantedPart(row) {
  const box = (kind = "box") => make(`span.${kind}`, { "aria-hidden": "true" });
  const why = (place) => [place.why, place.other.length ? `; or ${place.other.join(", ")}` : "",
    place.words ? make("span.quote", { dir: "auto" }, place.words) : ""];
  return make("section.wanted", {}, make("h3", {}, box("box.large"), named(row.subject || "Any cutaway"), make("span.long", {}, `${row.seconds.toFixed(1)} s`)),
    row.sizes.length ? make("ul.sizes", { "aria-label": "Sizes" }, row.sizes.map((size) => make("li", {}, box(), " ", named(size)))) : "",
    table(["at", "seconds", "why, and what is said there"], row.places.map((place) => [placeLink(place.at, place.time), place.seconds.toFixed(1), why(place)]), "", row.subject));
}

function toFilmPart(rows, asked) {
  const seconds = rows.reduce((sum, row) => sum + row.seconds, 0), many = rows.reduce((sum, row) => sum + row.places.length, 0);
  const lead = many ? `${plural(many, "shot")} that ${page.film.name} lacks, ${seconds.toFixed(1)} s in all, under what serves most of them.` : "";
  return listPart("to-film", "To film on the next shooting day", lead,
    rows.length ? rows.map(wantedPart) : make("p.plain", {}, "Nothing is missing: every place that should have a shot has one."),
    asked.length ? make("p.plain", {}, "Spoken of and never filmed: ",
      asked.map((row, place) => [place ? ", " : "", make("q", {}, row.word), ` (${row.times} times, first at ${Object.values(row.films)[0]})`]), ".") : null,
    rows.length || asked.length ? make("p.no-print", {}, make("button.act", { type: "button", onclick: () => printPart("to-film") }, "Print this sheet")) : null);
}

function printPart(id) {
  document.body.dataset.print = id;
  print();
  delete document.body.dataset.print;
}

function faultPart(rows) {
  return listPart("picture", "Faults of the picture", "",
    table(["at", "what"], rows.map((row) => [placeLink(row.at, row.time), row.what]), "None was found.", "faults"));
}

/** Levels that were decided: each can be set, or left as the editor has it. */
function levelTable(rows) {
  const made = rows.map((row) => {
    const put = (fields) => choices.put("levels", { name: row.name_of, about: `${row.time} ${row.what}`, ...fields });
    const input = make("input", { type: "number", min: -60, max: 20, step: 0.5, value: row.gain_db ?? 0, "aria-label": `${row.what} at ${row.time}, dB`,
      onchange: () => { if (input.value !== "" && input.checkValidity()) { put({ choice: "set", gain_db: Number(input.value) }); say(`set to ${input.value} dB`); } } });
    const act = (label, choice) => {
      const button = make("button.act", { type: "button", "aria-pressed": "false", onclick: () => {
        if (choices.of("levels", row.name_of)?.choice === choice) choices.drop("levels", row.name_of);
        else put(choice === "left" ? { choice } : { choice, gain_db: row.gain_db ?? 0 });
      } }, label);
      choices.watchers.push(() => button.setAttribute("aria-pressed", String(choices.of("levels", row.name_of)?.choice === choice)));
      return button;
    };
    return [placeLink(row.at, row.time), row.what, make("span.stepper", {}, input, make("span.unit", {}, "dB")), make("span.buttons", {}, act("Accept", "accepted"), act("Leave it", "left"))];
  });
  return rows.length ? table(["from", "what", "level", "decide"], made, "") : "";
}

function mixPart(mix, levels) {
  const whole = mix.whole;
  const parts = [];
  if (whole) parts.push(table(["whole film", "loudness", "range", "true peak"], ["before", "after"].map((name) => {
    const row = whole[name];
    return [name, figure(row.integrated_lufs, "LUFS"), figure(row.range_lu, "LU"), figure(row.peak_dbtp, "dBTP")];
  }), ""), make("p.plain", {}, whole.gain_to_target_db === null ? "Sound files cannot be heard, so it is not told how far the film is from its loudness."
    : `A gain of ${whole.gain_to_target_db > 0 ? "+" : ""}${figure(whole.gain_to_target_db, "dB")} on the whole film brings it to ${figure(whole.target_lufs, "LUFS")}.`));
  parts.push(table(["from", "seconds", "in front", "loudest beneath", "wanted", "before", "after", "music up"],
    mix.passages.map((row) => [placeLink(row.at, row.time), row.seconds.toFixed(1), row.kind, row.loudest || "nothing", figure(row.target_lu, "LU"),
      figure(row.before_lu, "LU"), figure(row.after_lu, "LU"), row.music_up ? placeLink(row.music_up_at, row.music_up) : "–"]),
    "Nothing sounds under speech."));
  parts.push(levelTable(levels || []));
  return listPart("mix", "The mix", "How far speech lies above the loudest sound beneath it.", ...parts);
}

function notePart(rows) {
  return listPart("notes", "Notes", "",
    table(["at", "what"], rows.map((row) => [row.at === null ? "–" : placeLink(row.at, row.time), [row.needs_editor ? make("strong", {}, "look: ") : "", row.text]]), "Nothing to add.", "notes"));
}
