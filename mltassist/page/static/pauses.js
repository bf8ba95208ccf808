/** Pauses: what is said before and after, what is seen and heard in between, and how long. */
function pauseCard(row) {
  const card = new Card("pauses", row, "pause");
  if (row.sound) card.player = new Player(row.sound, "play");
  card.play = () => card.player?.toggle();
  const now = () => card.choice?.length_s ?? row.seconds;
  const set = (length_s) => {
    card.put({ choice: "open", length_s: Math.max(0.5, length_s), clip: row.clip_name || "" });
    say(card.told());
  };
  const body = [
    make("div.pictures", {}, make("figure.seen", {}, still(row.still, row.seen), row.name ? null : make("figcaption.caption", {}, row.seen ? [named(row.seen), " stays in sight"] : "nothing is seen here"))),
    make("p.words", { dir: "auto" }, make("span.said", {}, before(row.said_before)), make("span.rest", {}, make("span.unseen", {}, ` ${row.seconds} seconds without words `)), make("span.said", {}, after(row.said_after))),
    make("div.listen", {}, card.player?.element, make("span.measured", {}, row.why)),
  ];
  if (!page.for_comments) {
    card.action("Accept", "Enter", () => ({ choice: "accepted", length_s: now(), clip: row.clip_name || "" }), (one) => one.choice === "accepted");
    card.action("No pause", "Delete", () => ({ choice: "refused" }), (one) => one.choice === "refused");
    const length = stepper("for", { value: now(), least: 0.5, most: 120, by: 0.5, unit: "s", onchange: set });
    card.more.append(length);
    card.keys["-"] = () => set(now() - 0.5);
    card.keys["+"] = () => set(now() + 0.5);
    card.refresh = () => { const input = length.querySelector("input"); if (document.activeElement !== input) input.value = now(); };
  }
  card.words = (one) => ({ accepted: "accepted", refused: "no pause", open: `${one.length_s} s` })[one.choice];
  return card.fill([make("span.who", {}, row.name ? named(row.name) : "without natural sound"), make("span.long", {}, ` ${row.seconds.toFixed(1)} s`)], body);
}
