/** Pauses at any place: what a place is called, so that its pause stays there whatever is cut elsewhere. */
const BEFORE_WORD_S = 0.4;

/** The name of a pause that begins at a frame: by the frame before it, whose words stay before it. */
function pauseName(at) {
  const { runs, files } = page.places;
  const before = Math.max(0, at - 1);
  let low = 0, high = runs.length;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (runs[middle][0] <= before) low = middle; else high = middle;
  }
  const [start, file, frame, after, nth, moves] = runs[low];
  const on = before - start, far = after + (moves ? 0 : on) - (at ? 0 : 1);
  const signed = far ? (far > 0 ? `+${far}` : String(far)) : "";
  return `pause ${frame + (moves ? on : 0)}${signed}${nth === 1 ? "" : `#${nth}`} ${files[file]}`;
}

/** The place nearest to a frame at which no word is cut apart: just before a word that begins near it. */
function betweenWords(frame) {
  const near = page.words.filter(([at]) => Math.abs(at - frame) <= BEFORE_WORD_S * rate)
    .sort((one, other) => Math.abs(one[0] - frame) - Math.abs(other[0] - frame))[0];
  return near ? { at: Math.max(0, near[0] - 1), word: near[1] } : { at: frame, word: "" };
}

/** What can be decided on the place that is marked in the film: a pause of so many seconds. */
function pauseAt(frame) {
  const place = betweenWords(frame), name = pauseName(place.at);
  const now = () => choices.of("pauses", name);
  const open = (length_s) => choices.put("pauses", { name, choice: "open", length_s, about: `${timecode(place.at)} a pause` });
  const input = make("input", { type: "number", min: 0.5, max: 60, step: 0.5, value: now()?.length_s ?? 4, inputMode: "decimal",
    onchange: () => { if (input.value !== "" && input.checkValidity() && now()) open(Number(input.value)); } });
  const toggle = () => {
    if (now()?.choice === "open") choices.drop("pauses", name);
    else open(Number(input.value) || 4);
    say(now() ? `a pause of ${now().length_s} seconds opens at ${timecode(place.at)}` : "no pause here");
  };
  const button = make("button.act", { type: "button", "aria-pressed": "false", "aria-keyshortcuts": "b", onclick: toggle }, "Open a pause here", make("kbd", { "aria-hidden": "true" }, "b"));
  const told = make("span.measured", {}, place.word ? ["before ", make("q", {}, place.word.replace(/[.,;:!?…]+$/, ""))] : "");
  const show = () => button.setAttribute("aria-pressed", String(now()?.choice === "open"));
  show();
  const element = make("div.pause-here", {}, button, make("label.stepper", {}, make("span", {}, "of"), input, make("span.unit", {}, "s")), told);
  const longer = (by) => {
    input.value = Math.max(0.5, Number(input.value) + by);
    if (now()) open(Number(input.value));
    say(`${input.value} seconds`);
  };
  return { element, toggle, show, longer };
}
