/** Shots: five pictures as the eye meets them, the words, and what else could lie there, in the same size. */
function coverCard(row) {
  const card = new Card("shots", row, "shot");
  const shots = row.stills;
  const moving = shots.moving ? shots.moving.split(" ") : [];
  const stage = still(shots.middle, `${row.name}, middle`, "moving");
  const line = make("div.sight", {},
    still(shots.before, "seen before it", "beside"),
    make("div.shot", {}, still(shots.first, `${row.name}, first frame`), stage, still(shots.last, `${row.name}, last frame`)),
    still(shots.after, "seen after it", "beside"));
  if (row.sound) {
    card.player = new Player(row.sound, "play", {
      at: null,
      onTime: (time) => flip(stage, moving, shots.middle, time === null ? null : (time - row.sound_at_s) / row.seconds),
    });
  }
  card.play = () => card.player?.toggle();
  const head = [make("span.who", {}, named(row.name)), make("span.long", {}, ` ${row.seconds.toFixed(1)} s`)];
  const reason = why(row);
  const body = [
    make("div.pictures", {}, line, page.for_comments ? null : instead(card)),
    saidWith(row),
    make("div.listen", {}, card.player?.element, make("span.measured", {}, reason)),
  ];
  const own = { clip: row.clip_name, source_in: row.source_in };
  card.put = (fields) => {
    Card.prototype.put.call(card, apart(card, fields));
    const after = beside(card, 1);
    if (lays(after?.choice)) {
      const kept = after.choice, moved = apart(after, kept);
      if (moved.begin_by !== (kept.begin_by || 0)) Card.prototype.put.call(after, moved);
    }
  };
  if (!page.for_comments) {
    card.action("Accept", "Enter", (now) => ({ choice: "accepted", ...own, ...by(now) }), (now) => now.choice === "accepted");
    card.action("Not this one", "Delete", () => ({ choice: "refused", clip: row.clip_name }), (now) => now.choice === "refused");
    card.action("The face stays", "f", () => ({ choice: "face stays" }), (now) => now.choice === "face stays");
    card.unfolds = () => [lengths(card, own), neverAgain(row), meaning(row)];
    row.others.forEach((other, place) => { card.keys[String(place + 1)] = () => takeOther(card, other); });
    card.keys["-"] = () => longer(card, own, -STEP);
    card.keys["+"] = () => longer(card, own, STEP);
  }
  card.words = (now) => {
    const told = { accepted: "accepted", refused: "not this one", "face stays": "the face stays" };
    const other = row.others.find((one) => one.clip_name === now.clip);
    const name = now.choice === "other clip" ? other?.name || now.clip : told[now.choice];
    const change = (now.end_by || 0) - (now.begin_by || 0);
    return change ? `${name}, ${Math.abs(seconds(change)).toFixed(1)} s ${change > 0 ? "longer" : "shorter"}` : name;
  };
  return card.fill(head, body);
}

const lays = (choice) => Boolean(choice) && ["accepted", "other clip"].includes(choice.choice);

/** The shot that begins where this one ends, or ends where it begins; null where there is none. */
function beside(card, way) {
  const end = (one) => one.row.at + one.row.length;
  return cards.find((one) => one.part === "shot" && (way > 0 ? one.row.at === end(card) : end(one) === card.row.at)) || null;
}

/** A choice that begins no sooner than the shot before it was chosen to end: two cannot be seen at once. */
function apart(card, fields) {
  const before = beside(card, -1)?.choice;
  if (!lays(fields) || !lays(before)) return fields;
  return { ...fields, begin_by: Math.max(fields.begin_by || 0, before.end_by || 0) };
}

const STEP = Math.max(1, Math.round(rate / 5));
const by = (now) => ({ begin_by: now?.begin_by || 0, end_by: now?.end_by || 0 });

const why = (row) => [row.why.replace(/; '[^;]*' is said(?=;|$)/, ""), row.cuts.length > 1 ? `${row.cuts.length} cuts` : "",
  row.parts > 1 ? `part ${row.part} of ${row.parts}, with a pause between: they are decided on as one` : ""].filter(Boolean).join(" · ");

/** One picture of a shot as it goes by; null brings back the one it stands on. */
function flip(stage, names, rest, part) {
  const image = stage.querySelector("img");
  if (!image || !names.length) return;
  const inside = part !== null && part >= 0 && part < 1;
  const name = inside ? names[Math.min(names.length - 1, Math.floor(part * names.length))] : rest;
  if (image.dataset.shown === name) return;
  image.dataset.shown = name;
  const url = medium(name);
  if (url) image.src = url;
}

/** What is said before, under and after a shot; the word that names what it shows stands out. */
function saidWith(row) {
  if (!row.said && !row.said_before && !row.said_after) return null;
  const found = { word: row.word.toLowerCase(), left: Boolean(row.word) };
  const part = (text, kind) => make(`span.${kind}`, {}, text.split(" ").flatMap((word, place) => {
    const bare = word.replace(/[.,;:!?…]+$/, "").toLowerCase();
    const hit = found.left && bare === found.word;
    if (hit) found.left = false;
    return [place ? " " : "", hit ? make("mark", {}, word) : word];
  }));
  const under = part(row.said, "said");
  return make("p.words", { dir: "auto" }, part(row.said_before, "aside"), " ", under, " ", part(row.said_after, "aside"));
}

function instead(card) {
  const { row } = card;
  if (!row.others.length) return null;
  const places = row.others.map((other, place) => {
    const button = make("button.other", { type: "button", "aria-pressed": "false", onclick: () => takeOther(card, other),
      "aria-keyshortcuts": String(place + 1) },
      still(other.still, ""), make("span.caption", {}, make("kbd", { "aria-hidden": "true" }, place + 1), " ", named(other.name)));
    card.actions.push({ button, matches: (now) => now.choice === "other clip" && now.clip === other.clip_name });
    return button;
  });
  return make("div.instead", { role: "group", "aria-label": "Instead" }, make("p.label", {}, "instead"), make("div.others", {}, places));
}

function takeOther(card, other) {
  const matches = (now) => now.choice === "other clip" && now.clip === other.clip_name;
  card.decide((now) => ({ choice: "other clip", clip: other.clip_name, source_in: other.source_in, ...by(now) }), matches, other.name);
}

function longer(card, own, change) {
  const now = card.choice;
  const kept = now && ["accepted", "other clip"].includes(now.choice) ? now : { choice: "accepted", ...own };
  const end_by = (now?.end_by || 0) + change;
  card.put({ choice: kept.choice, clip: kept.clip, source_in: kept.source_in, begin_by: now?.begin_by || 0, end_by });
  say(card.told());
}

function lengths(card, own) {
  const change = (key) => (value) => {
    const now = card.choice;
    const kept = now && ["accepted", "other clip"].includes(now.choice) ? now : { choice: "accepted", ...own };
    card.put({ choice: kept.choice, clip: kept.clip, source_in: kept.source_in, ...by(now), [key]: value });
    say(card.told());
  };
  const part = make("fieldset.moving", {}, make("legend", {}, "Longer or shorter"),
    stepper("begins", { value: 0, least: -500, most: 500, unit: "frames later", onchange: change("begin_by") }),
    stepper("ends", { value: 0, least: -500, most: 500, unit: "frames later", onchange: change("end_by") }));
  const inputs = part.querySelectorAll("input");
  card.refresh = (now) => ["begin_by", "end_by"].forEach((key, place) => {
    if (document.activeElement !== inputs[place]) inputs[place].value = now?.[key] || 0;
  });
  return part;
}

function neverAgain(row) {
  const button = make("button.act", { type: "button", "aria-pressed": "false", onclick: () => {
    const on = !choices.now.never.includes(row.clip_name);
    choices.never(row.clip_name, on);
    say(on ? `${row.name} is never laid` : `${row.name} may be laid again`);
  } }, "Never lay this clip");
  const show = () => button.setAttribute("aria-pressed", String(choices.now.never.includes(row.clip_name)));
  choices.watchers.push(show);
  show();
  return make("p", {}, button);
}

/** A tag of the bin means a word that is said here. */
function meaning(row) {
  if (!page.tags?.length) return null;
  const said = [...new Set(row.said.split(" ").map((word) => word.replace(/[.,;:!?…]+$/, "").toLowerCase()))].filter((word) => word.length > 2);
  if (!said.length) return null;
  const word = make("select", {}, said.map((one) => make("option", { value: one }, one)));
  const tag = make("select", {}, page.tags.map((one) => make("option", { value: one }, one)));
  const button = make("button.act", { type: "button", onclick: () => {
    choices.means(tag.value, word.value, true);
    say(`${word.value} is shown by ${tag.value}`);
    told.textContent = `“${word.value}” is shown by “${tag.value}”`;
  } }, "Remember");
  const told = make("span.told");
  return make("p.meaning", {}, make("label", {}, "From now on ", word), make("label", {}, " is shown by ", tag), " ", button, " ", told);
}
