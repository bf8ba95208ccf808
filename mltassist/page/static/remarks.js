/** For who comments: a remark on any edit or place, kept here and handed over as one file. */
const REMARKS = `remarks on ${page.film.file} ${page.mark || ""}`;
const remarks = { rows: [], by: "", dirty: false };
if (page.for_comments) {
  try { Object.assign(remarks, JSON.parse(localStorage.getItem(REMARKS) || "{}")); } catch { /* none was kept */ }
  addEventListener("beforeunload", (event) => { if (remarks.dirty) event.preventDefault(); });
}

function keep() {
  remarks.dirty = true;
  try { localStorage.setItem(REMARKS, JSON.stringify({ rows: remarks.rows, by: remarks.by })); } catch { /* a page may be kept from it */ }
  choices.tell();
}

/** where: the name of a decision, or a timecode. */
function keepRemark(at, where, text) {
  remarks.rows = remarks.rows.filter((row) => row.where !== where);
  if (text.trim()) remarks.rows.push({ at, where, text: text.trim() });
  remarks.rows.sort((one, other) => one.at - other.at);
  keep();
}

function remarkText(at, where) {
  const kept = remarks.rows.find((row) => row.where === where);
  return make("textarea", { rows: 2, value: kept?.text || "", dir: "auto", oninput: (event) => keepRemark(at, where, event.target.value) });
}

function remarkField(card) {
  return make("label.remark", {}, make("span", {}, "Your remark"), remarkText(card.row.at, card.row.name_of || card.row.time));
}

function remarkHere(frame) {
  return make("label.remark", {}, make("span", {}, `Your remark at ${timecode(frame)}`), remarkText(frame, timecode(frame)));
}

function remarksBy() {
  const input = make("input", { type: "text", value: remarks.by, dir: "auto", autocomplete: "name", oninput: () => { remarks.by = input.value.trim(); keep(); } });
  return make("label.stepper.by", {}, make("span", {}, "Your name"), input);
}

function saveRemarks() {
  const told = remarks.rows.map(({ where, text }) => ({ at: where, text, ...(remarks.by ? { by: remarks.by } : {}) }));
  handOver(JSON.stringify(told, null, 2) + "\n", `${page.film.name}.remarks.json`, "application/json");
  remarks.dirty = false;
  say(`${plural(remarks.rows.length, "remark")} saved as a file`);
  choices.tell();
}
