/** Joins: the words with those left out struck through, what was measured, and both sounds. */
function joinCard(row) {
  const card = new Card("joins", row, "join");
  const changed = row.sound_after !== row.sound_before;
  const tick = row.sound_at_s / 4;
  card.players = [];
  if (row.sound_after) card.players.push(new Player(row.sound_after, changed ? "mended" : "play", { at: tick }));
  if (changed && row.sound_before) card.players.push(new Player(row.sound_before, "as it was", { at: tick }));
  const other = row.from && row.from !== row.who ? [named(row.from), " to "] : [];
  const head = [make("span.who", { dir: "auto" }, other, named(row.who))];
  if (row.after) head.push(make(`span.verdict.${row.after.verdict}`, {}, VERDICTS[row.after.verdict]));
  const body = [
    words(row),
    make("div.listen", {}, card.players.map((player) => player.element), measured(row)),
  ];
  if (!page.for_comments) {
    card.action("Accept", "Enter", () => ({ choice: "accepted", ...row.moved }), (now) => now.choice === "accepted");
    card.action(row.mends?.length ? "Leave my cut" : "Never mend", "Delete", () => ({ choice: "left" }), (now) => now.choice === "left");
    card.unfolds = () => [moving(card), pauseHere(card)];
  }
  card.words = (now) => ({ accepted: "accepted", left: "left as I cut it", moved: movedWords(now) })[now.choice];
  card.play = (other) => card.players[other ? card.players.length - 1 : 0]?.toggle();
  return card.fill(head, body);
}

const VERDICTS = { clean: "not heard", check: "perhaps heard", heard: "heard" };

function words(row) {
  if (!row.words_before && !row.words_after)
    return make("p.words.none", {}, "No transcript lies beside this recording.");
  return make("p.words", { dir: "auto" },
    make("span.said", {}, row.words_before ? `${before(row.words_before)} ` : ""),
    row.words_removed ? [make("del", {}, folded(row.words_removed)), asHeard(row)] : make("span.cut", { title: row.kind === "change" ? "another voice" : row.elsewhere ? "what was said here is played elsewhere" : "the cut" }, "¦"),
    make("span.said", {}, row.words_after ? ` ${after(row.words_after)}` : ""));
}

/** Who reads words that a machine has heard is told so: they may be others than were said. */
const asHeard = (row) => (row.words_heard ? make("span.aside", {}, " (as heard) ") : "");

/** Words that begin within a sentence, or end within one, say so. */
const before = (text) => (/^\p{Ll}/u.test(text) ? `…${text}` : text);
const after = (text) => (/[.!?…]$/.test(text) ? text : `${text}…`);

/** What was left out, its middle too where it is long. */
function folded(text) {
  const all = text.split(" ");
  return all.length <= 60 ? text : `${all.slice(0, 28).join(" ")} … ${all.length - 56} words … ${all.slice(-28).join(" ")}`;
}

function measured(row) {
  if (!row.after) return null;
  const parts = [];
  if (row.removed_s > 0) parts.push(`${row.removed_s.toFixed(1)} s left out`);
  else if (row.removed_s < 0) parts.push(`${(-row.removed_s).toFixed(1)} s turned round`);
  for (const mend of row.mends) parts.push(mend);
  for (const reason of row.after.reasons) parts.push(reason);
  const before = row.before.score !== row.after.score ? `${row.before.score.toFixed(2)} before, ` : "";
  return make("span.measured", {}, parts.join(" · "), parts.length ? " · " : "",
    make("span.score", {}, `score ${before}${row.after.score.toFixed(2)}`));
}

const frames = (many) => `${Math.abs(many)} ${Math.abs(many) === 1 ? "frame" : "frames"} ${many < 0 ? "earlier" : "later"}`;
const movedWords = (now) => {
  const parts = [];
  if (now.before_by) parts.push(`ends ${frames(now.before_by)}`);
  if (now.after_by) parts.push(`begins ${frames(now.after_by)}`);
  return parts.length ? `moved: ${parts.join(", ")}` : "moved";
};

function moving(card) {
  const value = (key) => card.choice?.[key] ?? card.row.moved?.[key] ?? 0;
  const change = (key) => (by) => {
    card.put({ choice: "moved", before_by: value("before_by"), after_by: value("after_by"), [key]: by });
    say(card.told());
  };
  const part = make("fieldset.moving", {}, make("legend", {}, "Mend it otherwise"),
    stepper("the bite before ends", { value: value("before_by"), least: -50, most: 50, unit: "frames later", onchange: change("before_by") }),
    stepper("the bite after begins", { value: value("after_by"), least: -50, most: 50, unit: "frames later", onchange: change("after_by") }));
  const inputs = part.querySelectorAll("input");
  card.refresh = () => {
    ["before_by", "after_by"].forEach((key, place) => { if (document.activeElement !== inputs[place]) inputs[place].value = value(key); });
  };
  return part;
}

/** A pause at the place of a join: what is said before it stays before it. */
function pauseHere(card) {
  const name = card.row.pause_name;
  if (!name) return null;
  const input = make("input", { type: "number", min: 0.5, max: 60, step: 0.5, value: 4, inputMode: "decimal" });
  const button = make("button.act", { type: "button", "aria-pressed": "false", onclick: () => {
    if (choices.of("pauses", name)) choices.drop("pauses", name);
    else choices.put("pauses", { name, choice: "open", length_s: Number(input.value) || 4, about: `${card.row.time} a pause` });
    say(choices.of("pauses", name) ? "a pause is opened here" : "no pause here");
  } }, "Open a pause here");
  const show = () => button.setAttribute("aria-pressed", String(choices.of("pauses", name)?.choice === "open"));
  choices.watchers.push(show);
  show();
  return make("p.pause-here", {}, button, make("label.stepper", {}, make("span", {}, "of"), input, make("span.unit", {}, "s")));
}
