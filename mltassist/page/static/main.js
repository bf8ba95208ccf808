/** The page put together: first what is seen at once, then the rest. */
const listenHere = (frame) => server.listenHere(frame);
const saving = () => (page.for_comments ? saveRemarks() : served ? say("every choice is saved as it is made") : saveChoices());

/** The page again, with other data. */
function rebuild() {
  playing?.stop();
  cards.length = 0;
  current = null;
  choices.watchers.length = 0;
  for (const id of ["title", "about", "first", "parts", "main", "foot", "doing"]) byId(id).replaceChildren();
  Object.assign(choices.now, empty(), structuredClone(page.choices));
  build();
}

function build() {
  if (served) document.documentElement.dataset.serial = page.served.serial;
  document.title = `${page.film.name} · ${page.for_comments ? "for comments" : "decisions"}`;
  byId("title").append(named(page.film.name));
  const counts = [plural(page.joins.length, "join"), plural(page.covers.length, "shot"), plural(page.pauses.length, "pause")].filter((one) => !one.startsWith("0 "));
  const change = page.film.length - page.film.length_before;
  byId("about").append(`${page.film.time}${change ? `, ${Math.abs(seconds(change)).toFixed(1)} s ${change > 0 ? "longer" : "shorter"} than before` : ""} · ${counts.join(", ")}`);
  byId("first").append(...firstOfAll());
  const parts = [];
  const part = (id, title, cardsOf, lead = "") => {
    if (!cardsOf.length) return null;
    parts.push([id, title, cardsOf.length]);
    return make("section.decisions", { id, "aria-labelledby": `${id}-title` }, make("h2", { id: `${id}-title` }, title),
      lead && !page.for_comments ? make("p.lead", {}, lead) : null, cardsOf.map((card) => card.element));
  };
  const joins = part("joins", "Joins", page.joins.map(joinCard), page.joins.some((row) => row.after) ? "The score of a join is how far it stands out from the speech around it: under 1 it is not heard." : "");
  const covers = part("shots", "Shots", page.covers.map(coverCard));
  const pauses = part("pauses", "Pauses", page.pauses.map(pauseCard));
  const lists = page.for_comments ? [] : [standingPart()];
  const { hidden, to_film, never_filmed, faults, mix, levels, notes } = page.lists;
  const list = (made, title, many) => { lists.push(made); parts.push([made.id, title, many]); };
  if (hidden) {
    list(hiddenPart(hidden), "Producer", hidden.length);
    list(toFilmPart(to_film, never_filmed), "To film", to_film.reduce((sum, row) => sum + row.places.length, 0));
    list(faultPart(faults), "Picture", faults.length);
    list(mixPart(mix, levels), "Mix", null);
    list(notePart(notes), "Notes", notes.length);
  }
  parts.unshift(["film", "Film", null]);
  byId("parts").append(...parts.map(([id, title, many]) => make("li", {}, make("a", { href: `#${id}`, onclick: () => settle(id) }, title, many === null ? "" : make("span.many", {}, ` ${many}`)))));
  byId("main").append(strip.build(), ...[joins, covers, pauses].filter(Boolean), ...lists);
  byId("foot").append(make("p", {}, "A cover hides edits, and measures are no ears: listen, look, and ask those who spoke."));
  cards[0] && (cards[0].element.tabIndex = 0);
  buildDoing();
}

/** What asks for the person before all else; and that the rest may stay as it is. */
function firstOfAll() {
  if (page.for_comments) return [];
  const link = (text, act) => make("a", { href: "#main", onclick: (event) => { event.preventDefault(); act(); } }, text);
  const part = (id) => () => { byId(id).scrollIntoView(); settle(id); };
  const heard = page.joins.filter((row) => row.after && row.after.verdict !== "clean");
  const missing = page.lists.to_film.reduce((sum, row) => sum + row.places.length, 0);
  const look = page.lists.notes.filter((row) => row.needs_editor).length;
  const asked = [
    heard.length ? link(`${plural(heard.length, "join")} that may be heard`, () => cards.find((card) => card.row === heard[0])?.go()) : "",
    missing ? link(`${plural(missing, "shot")} missing`, part("to-film")) : "",
    look ? link(`${plural(look, "note")} for you`, part("notes")) : "",
  ].filter(Boolean);
  const rest = "Decide only what you want otherwise: all else stays as it is planned.";
  return asked.length ? ["Look first at ", asked.map((one, place) => [place ? (place === asked.length - 1 ? " and " : ", ") : "", one]), ". ", rest].flat(3)
    : [`Nothing needs you. ${rest}`];
}

/** Cards far away have no height before they are seen: a part is scrolled to again until it stays where it is. */
function settle(id, tries = 10) {
  setTimeout(() => {
    const part = byId(id), top = part?.getBoundingClientRect().top;
    part?.scrollIntoView();
    if (part && tries && Math.abs(part.getBoundingClientRect().top - top) > 1) settle(id, tries - 1);
  }, 80);
}

function buildDoing() {
  const state = make("p.count", { id: "count" });
  const buttons = make("div.buttons", {});
  const button = (text, key, act, kind = "") => make(`button.act${kind}`, { type: "button", onclick: act }, text, key ? make("kbd", { "aria-hidden": "true" }, key) : "");
  if (page.joins.some((row) => row.sound_after)) buttons.append(button("Listen with eyes shut", "d", () => dark.open()));
  if (served) buttons.append(...server.buttons(button));
  else if (page.for_comments) buttons.append(button("Save the remarks", "s", saveRemarks, ".main"));
  else buttons.append(button("Save the choices", "s", saveChoices, ".main"));
  buttons.append(button("Keys", "?", openHelp));
  byId("doing").append(state, page.for_comments ? remarksBy() : "", buttons);
  const show = () => {
    for (const card of cards) card.show();
    if (page.for_comments) state.textContent = `${plural(remarks.rows.length, "remark")}${remarks.dirty ? ", not saved as a file yet" : ""}`;
    else {
      const open = cards.filter((card) => card.row.name_of && !card.choice).length;
      const kept = served ? ` · ${server.state()}` : choices.dirty ? ", not saved as a file yet" : "";
      state.textContent = `${choices.many} decided, ${open} as planned${kept}`;
    }
  };
  choices.watchers.push(show);
  show();
}

build();
buildHelp();
if (served) server.poll();
