/** Eyes shut: the page goes dark, every join is played in turn, one key marks "I heard it". */
const dark = {
  on() { return byId("dark").open; },

  open() {
    this.joins = page.joins.filter((row) => row.sound_after);
    if (!this.joins.length) { say("there is no join to hear"); return; }
    this.heard = new Set();
    this.place = -1;
    this.count = make("p.count");
    this.button = make("button.ear", { type: "button", onclick: () => this.mark() }, "I heard it");
    byId("dark").replaceChildren(make("h2.unseen", { id: "dark-title" }, "Listen with eyes shut"),
      make("p.quiet", {}, "Shut your eyes. Press space when you hear an edit; Esc ends it."),
      this.button, this.count, make("button.act.end", { type: "button", onclick: () => this.end() }, "End"));
    byId("dark").showModal();
    this.button.focus();
    this.next();
  },

  next() {
    this.place += 1;
    if (this.place >= this.joins.length) { this.end(); return; }
    this.count.textContent = `${this.place + 1} of ${this.joins.length}`;
    this.button.classList.remove("marked");
    this.player?.stop();
    this.player = new Player(this.joins[this.place].sound_after, "join", { onEnd: () => { this.timer = setTimeout(() => this.next(), 700); } });
    this.timer = setTimeout(() => this.player.play(), 500);
  },

  mark() {
    if (this.place < 0 || this.place >= this.joins.length) return;
    const row = this.joins[this.place];
    if (this.heard.has(row)) this.heard.delete(row); else this.heard.add(row);
    this.button.classList.toggle("marked", this.heard.has(row));
  },

  end() {
    clearTimeout(this.timer);
    this.player?.stop();
    if (this.place >= this.joins.length) this.results();
    else if (this.place > 0 || this.heard.size) { this.joins = this.joins.slice(0, this.place + 1); this.results(); }
    else byId("dark").close();
    this.place = Infinity;
  },

  results() {
    const told = (row) => (row.after ? VERDICTS[row.after.verdict] : "");
    const alike = this.joins.filter((row) => this.heard.has(row) === (row.after?.verdict === "heard" || row.after?.verdict === "check")).length;
    const rows = this.joins.map((row) => [make("a.time", { href: "#", onclick: (event) => { event.preventDefault(); byId("dark").close(); cards.find((card) => card.row === row)?.go(); } }, row.time),
      named(row.who), this.heard.has(row) ? make("strong", {}, "heard it") : "–", page.for_comments ? "" : `${told(row)}, ${row.after.score.toFixed(2)}`]);
    byId("dark").replaceChildren(make("h2", { id: "dark-title" }, "What you heard, and what was measured"),
      make("p.quiet", {}, `You heard ${this.heard.size} of ${plural(this.joins.length, "join")}. Ear and measure agree on ${alike}.`),
      table(["join", "who", "your ear", "measured"], rows, ""),
      make("p", {}, make("button.act", { type: "button", onclick: () => byId("dark").close() }, "Close")));
    byId("dark").querySelector("button").focus();
  },
};
byId("dark").addEventListener("close", () => { clearTimeout(dark.timer); dark.player?.stop(); });
byId("dark").addEventListener("cancel", (event) => { if (dark.place !== Infinity) { event.preventDefault(); dark.end(); } });
