/** What a served page does besides; a page that is a file has no one to ask. */
const server = { send() {}, buttons: () => [], listenHere: () => "" };
