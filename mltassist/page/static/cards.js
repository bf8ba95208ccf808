/** A decision as a card: what it is about, what can be decided, and what was. Cards stand in film order. */
const cards = [];
let current = null;

class Card {
  /** list: of the choices; row: of the page's data; part: the section it belongs to. */
  constructor(list, row, part) {
    Object.assign(this, { list, row, part, actions: [], keys: {} });
    this.id = `${part}-${row.at}-${cards.filter((one) => one.part === part).length + 1}`;
    this.state = make("span.state", { id: `${this.id}-state` });
    this.buttons = make("div.choose", { role: "group", "aria-label": "Decide" });
    this.more = make("div.more");
    this.element = make("article.card", { id: this.id, tabIndex: -1, "aria-labelledby": `${this.id}-title` });
    this.element.addEventListener("focusin", () => this.enter());
    this.element.addEventListener("pointerdown", () => this.enter());
    cards.push(this);
  }

  /** head: the title's parts; body: all that is seen of it; more: what is shown where one is. */
  fill(head, body, more = []) {
    const time = make("a.time", { href: `#${this.id}`, onclick: (event) => { event.preventDefault(); strip.go(this.row.at); } },
      this.row.time);
    time.setAttribute("aria-label", `${this.row.time}, show it in the film`);
    add(this.more, more);
    const decides = !page.for_comments && this.row.name_of;
    add(this.element,
      make("div.when", {}, time, this.state),
      decides ? this.buttons : null,
      make("div.what", {},
        make("h3", { id: `${this.id}-title` }, head),
        ...body,
        page.for_comments ? remarkField(this) : null,
        page.for_comments ? null : this.more));
    this.show();
    return this;
  }

  /** A button with its key. choose: gives the choice as fields, null to take it back. */
  action(label, key, choose, matches) {
    const button = make("button.act", { type: "button", "aria-pressed": "false", onclick: () => this.decide(choose, matches, label) },
      label, key ? make("kbd", { "aria-hidden": "true" }, keyName(key)) : null);
    if (key) button.setAttribute("aria-keyshortcuts", key);
    this.actions.push({ button, matches, label });
    this.buttons.append(button);
    if (key) this.keys[key] = () => this.decide(choose, matches, label);
    return button;
  }

  get choice() { return this.row.name_of ? choices.of(this.list, this.row.name_of) : null; }

  decide(choose, matches, label) {
    if (!this.row.name_of) return;
    const now = this.choice;
    if (now && matches && matches(now)) {
      choices.drop(this.list, this.row.name_of);
      say(`${label}: taken back`);
      return;
    }
    this.put(choose(now));
    say(`${this.row.time}: ${this.told()}`);
  }

  put(fields) {
    const about = `${this.row.time} ${this.row.name || this.row.who || ""}`.trim();
    choices.put(this.list, { name: this.row.name_of, about, ...fields });
  }

  told() { return this.choice ? this.words(this.choice) : ""; }

  words(choice) { return choice.choice; }

  show() {
    const now = this.choice;
    this.element.classList.toggle("decided", Boolean(now));
    this.element.dataset.choice = now ? now.choice : "";
    this.state.textContent = this.told();
    for (const { button, matches } of this.actions)
      button.setAttribute("aria-pressed", String(Boolean(now && matches && matches(now))));
    this.refresh?.(now);
  }

  enter() {
    if (current === this) return;
    current?.leave();
    current = this;
    this.element.tabIndex = 0;
    this.element.setAttribute("aria-current", "true");
    this.begin?.();
    this.unfold();
    strip.mark(this.row.at, this.row.length || 0);
  }

  /** What is shown only where one is, is made once one is there: most cards of a long film are never entered. */
  unfold() {
    if (!this.unfolds) return;
    add(this.more, this.unfolds());
    this.unfolds = null;
    this.show();
  }

  leave() {
    this.element.tabIndex = -1;
    this.element.removeAttribute("aria-current");
  }

  go() {
    this.enter();
    this.element.focus({ preventScroll: true });
    const box = this.element.getBoundingClientRect();
    const room = innerHeight - box.height;
    const top = box.top + scrollY - Math.max(90, Math.min(room / 2, innerHeight * 0.25));
    scrollTo({ top, behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
  }
}

/** The card so many places on. */
function step(by) {
  if (!cards.length) return;
  const place = current ? cards.indexOf(current) + by : by > 0 ? 0 : cards.length - 1;
  cards[Math.max(0, Math.min(cards.length - 1, place))].go();
}

/** The first card of the next part of the page. */
function nextPart() {
  const place = current ? cards.indexOf(current) : -1;
  const next = cards.findIndex((card, at) => at > place && card.part !== current?.part);
  if (cards.length) cards[Math.max(0, next)].go();
}

/** The next card on which nothing is decided yet. */
function nextOpen() {
  const place = current ? cards.indexOf(current) : -1;
  const order = [...cards.slice(place + 1), ...cards.slice(0, place + 1)];
  const open = order.find((card) => card.row.name_of && !card.choice);
  if (open) open.go();
  else say("everything is decided");
}

function cardAt(frame) {
  return cards.find((card) => card.part !== "join" && frame >= card.row.at && frame < card.row.at + (card.row.length || 1))
    || cards.reduce((best, card) => (!best || Math.abs(card.row.at - frame) < Math.abs(best.row.at - frame) ? card : best), null);
}

const KEY_NAMES = { Enter: "↵", Delete: "⌫", Backspace: "⌫", " ": "space" };
const keyName = (key) => KEY_NAMES[key] || key;

/** A number that is changed in steps, with its own words. */
function stepper(label, { value, least, most, by = 1, unit, onchange }) {
  const input = make("input", { type: "number", min: least, max: most, step: by, value, inputMode: "decimal",
    onchange: () => { if (input.value !== "" && input.checkValidity()) onchange(Number(input.value)); } });
  return make("label.stepper", {}, make("span", {}, label), input, make("span.unit", {}, unit));
}
