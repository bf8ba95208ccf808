/** The film set in lines, as words are on a page: what is seen as a band, speech above it, music beneath. */
const SEEN = { interview: "a face", cutaway: "a cutaway", "natural sound": "natural sound", narration: "narration",
  music: "music's own picture", other: "another picture", black: "black", none: "nothing" };
const BARE = !page.strip.after.loudness, HIGH = BARE ? 22 : 72, BAND = BARE ? [6, 16] : [36, 46];

const strip = {
  at: 0,

  build() {
    const longest = Math.max(page.film.length, page.film.length_before);
    const line_s = [10, 15, 20, 30, 60, 120, 300, 600, 1200].find((one) => longest / rate / one <= 12) || 3600;
    this.line = Math.max(1, Math.round(line_s * rate));
    this.here = make("div.here", { id: "here" });
    const was = this.figure(page.strip.before, "As it was", false);
    const now = this.figure(page.strip.after, "As it is now", true);
    const part = make("section.film", { id: "film", "aria-labelledby": "film-title" },
      make("h2", { id: "film-title" }, "The film"), this.legend(), make("div.both", {}, was, now), this.here);
    this.go(Math.min(this.at, page.film.length - 1), false);
    choices.watchers.push(() => this.pause?.show());
    return part;
  },

  legend() {
    const row = (kind, text) => make("li", {}, make(`span.swatch.${kind}`, { "aria-hidden": "true" }), text);
    const kinds = ["face", "cutaway", "natural"].map((kind, place) => row(kind, ["a face is seen", "a cutaway is seen", "natural sound is seen"][place]));
    const sounds = page.strip.after.loudness ? [row("speech", "speech, above"), row("music", "music, beneath"), row("nature", "natural sound, beneath")] : [];
    return make("ul.legend", { "aria-label": "What the band and the areas mean" }, kinds, sounds);
  },

  figure(state, title, live) {
    const lines = [];
    for (let start = 0; start < Math.max(1, state.length); start += this.line) lines.push(this.row(state, start));
    const body = make(BARE ? "div.lines.bare" : "div.lines", {}, lines);
    if (live) {
      Object.assign(body, { tabIndex: 0 });
      for (const [key, value] of Object.entries({ role: "slider", "aria-label": "A place in the film", "aria-valuemin": 0, "aria-valuemax": state.length - 1 }))
        body.setAttribute(key, value);
      body.addEventListener("keydown", (event) => this.key(event));
      this.body = body;
    }
    body.addEventListener("click", (event) => this.clicked(event, live));
    const before = state === page.strip.before;
    return make("figure", {}, make("figcaption", {}, title, make("span.long", {}, ` ${before ? page.film.time_before : page.film.time}`)), body);
  },

  row(state, start) {
    const end = Math.min(start + this.line, state.length);
    const x = (frame) => (1000 * (frame - start)) / this.line;
    const art = draw("svg", { viewBox: `0 0 1000 ${HIGH}`, preserveAspectRatio: "none", "aria-hidden": "true", focusable: "false" });
    if (state.loudness) {
      art.append(this.area(state.loudness.natural, "nature", start, end, x, BAND[1], 1));
      art.append(this.area(state.loudness.music, "music", start, end, x, BAND[1], 1));
      art.append(this.area(state.loudness.speech, "speech", start, end, x, BAND[0], -1));
    }
    for (const [first, length, kind] of state.seen) {
      const from = Math.max(first, start), to = Math.min(first + length, end);
      if (to <= from || kind === "none") continue;
      art.append(draw("rect", { class: `seen ${KIND_CLASS[kind] || "other"}`, x: x(from), width: Math.max(0.6, x(to) - x(from) - (to < end ? 0.8 : 0)), y: BAND[0], height: BAND[1] - BAND[0] }));
    }
    const row = make("div.row", {}, make("span.clock", { "aria-hidden": "true" }, clock(start)), make("div.art", {}, art));
    Object.assign(row.dataset, { start, end });
    if (end - start < this.line) row.classList.add("last");
    return row;
  },

  area(curve, kind, start, end, x, base, way) {
    const step = curve.step_s * rate, high = way < 0 ? base - 2 : HIGH - base - 2;
    const first = Math.floor(start / step), last = Math.min(curve.lufs.length - 1, Math.ceil(end / step));
    let path = "", open = false;
    for (let place = first; place <= last; place++) {
      const level = curve.lufs[place];
      const size = Math.max(0.03, Math.min(1, ((level ?? -99) + 52) / 38)) * high;
      const from = Math.max(start, place * step), to = Math.min(end, (place + 1) * step);
      if (to <= from) continue;
      if (level === null) {
        if (open) path += `L${x(from).toFixed(1)} ${base}`;
        open = false;
        continue;
      }
      if (!open) path += `M${x(from).toFixed(1)} ${base}`;
      open = true;
      const y = (base + way * size).toFixed(1);
      const at = from === start ? from : to === end ? to : (from + to) / 2;
      path += `L${x(at).toFixed(1)} ${y}`;
    }
    return draw("path", { class: kind, d: open ? `${path}L${x(end).toFixed(1)} ${base}` : path });
  },

  clicked(event, live) {
    const row = event.target.closest(".row");
    if (!row) return;
    const box = row.querySelector(".art").getBoundingClientRect();
    const frame = Number(row.dataset.start) + Math.floor((this.line * (event.clientX - box.left)) / box.width);
    if (live) this.go(Math.max(0, Math.min(page.film.length - 1, frame)));
    else this.showBefore(Math.max(0, Math.min(page.film.length_before - 1, frame)));
  },

  key(event) {
    const places = [...new Set([0, ...cards.map((card) => card.row.at), ...page.strip.after.seen.map((one) => one[0])])].sort((a, b) => a - b);
    const second = Math.round(rate);
    const to = {
      ArrowRight: () => places.find((place) => place > this.at) ?? this.at,
      ArrowLeft: () => places.findLast((place) => place < this.at) ?? 0,
      ArrowDown: () => this.at + this.line, ArrowUp: () => this.at - this.line,
      PageDown: () => this.at + 10 * second, PageUp: () => this.at - 10 * second,
      Home: () => 0, End: () => page.film.length - 1,
    }[event.key];
    if (this.pause && ["+", "=", "-", "−", "_"].includes(event.key)) {
      event.preventDefault();
      event.stopPropagation();
      this.pause.longer("+=".includes(event.key) ? 0.5 : -0.5);
      return;
    }
    if (event.key === "Enter") { event.preventDefault(); event.stopPropagation(); cardAt(this.at)?.go(); return; }
    if (!to) return;
    event.preventDefault();
    event.stopPropagation();
    this.go(Math.max(0, Math.min(page.film.length - 1, to())));
  },

  /** Puts the mark at a frame, and tells what is there. */
  go(frame, shown = true) {
    this.mark(frame, 0);
    const told = this.tell(page.strip.after, frame);
    this.body.setAttribute("aria-valuenow", frame);
    this.body.setAttribute("aria-valuetext", told.join(", "));
    const card = cardAt(frame);
    this.pause = page.for_comments ? null : pauseAt(frame);
    this.here.replaceChildren(make("p", {}, make("span.time", {}, timecode(frame)), " ", told.slice(1).join(" · ")),
      saidAt(frame) ? make("p.words", { dir: "auto" }, saidAt(frame)) : "",
      make("div.links", {}, served ? listenHere(frame) : "", this.pause?.element, card ? make("a", { href: `#${card.id}`, onclick: (event) => { event.preventDefault(); card.go(); } },
        `${PARTS[card.part]} at ${card.row.time}`) : "", page.for_comments ? remarkHere(frame) : ""));
    if (shown && !inView(this.body)) byId("film").scrollIntoView({ block: "start" });
  },

  /** Opens a pause at the mark, wherever that was set from, or takes it back. */
  pauseHere() {
    if (!this.pause) this.go(this.at, false);
    this.pause?.toggle();
  },

  showBefore(frame) {
    this.pause = null;
    const told = this.tell(page.strip.before, frame);
    this.here.replaceChildren(make("p", {}, "As it was: ", make("span.time", {}, timecode(frame)), " ", told.slice(1).join(" · ")));
  },

  tell(state, frame) {
    const seen = state.seen.find(([first, length]) => frame >= first && frame < first + length);
    const heard = Object.entries(state.heard).filter(([, spans]) => spans.some(([first, length]) => frame >= first && frame < first + length)).map(([kind]) => kind);
    const told = [timecode(frame), seen ? `${SEEN[seen[2]]}${seen[3] ? ` is seen: ${seen[3]}` : " is seen"}` : "nothing is seen",
      heard.length ? `heard: ${heard.join(", ")}` : "silence"];
    const level = (kind) => state.loudness?.[kind].lufs[Math.floor(frame / rate / state.loudness[kind].step_s)];
    for (const kind of ["speech", "music"]) if (typeof level(kind) === "number") told.push(`${kind} ${figure(level(kind), "LUFS", 0)}`);
    return told;
  },

  mark(frame, length) {
    if (frame !== this.at) this.pause = null;
    this.at = frame;
    for (const old of this.body.querySelectorAll(".mark")) old.remove();
    for (const row of this.body.children) {
      const start = Number(row.dataset.start);
      const from = Math.max(frame, start), to = Math.min(frame + Math.max(1, length), start + this.line);
      if (to <= from) continue;
      const mark = make("span.mark");
      mark.style.left = `${(100 * (from - start)) / this.line}%`;
      mark.style.width = `${(100 * (to - from)) / this.line}%`;
      row.querySelector(".art").append(mark);
    }
  },
};

const KIND_CLASS = { interview: "face", cutaway: "cutaway", "natural sound": "natural", black: "black", narration: "other", music: "other" };
const PARTS = { join: "the join", shot: "the shot", pause: "the pause" };

function inView(element) {
  const box = element.getBoundingClientRect();
  return box.bottom > 0 && box.top < innerHeight;
}

function saidAt(frame) {
  const around = 3 * rate;
  return page.words.filter(([at]) => Math.abs(at - frame) < around).map(([, word]) => word).join(" ");
}

/** A frame as timecode, counted as the film counts. */
function timecode(frame) {
  const base = Math.round(rate);
  let number = frame, mark = ":";
  const drops = page.film.rate[1] === 1001 && [30, 60].includes(base) ? base / 15 : 0;
  if (drops) {
    mark = ";";
    const minute = base * 60 - drops, ten = minute * 10 + drops, rest = number % ten;
    number += drops * (9 * Math.floor(number / ten) + Math.floor(Math.max(0, rest - drops) / minute));
  }
  const two = (value) => String(value).padStart(2, "0");
  const all = Math.floor(number / base);
  return `${two(Math.floor(all / 3600))}:${two(Math.floor(all / 60) % 60)}:${two(all % 60)}${mark}${two(number % base)}`;
}
