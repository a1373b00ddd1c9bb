// Keeps the page as the case stands, and says loudly when it cannot: figures that have stopped must never look live.
"use strict";
(() => {
  const SILENT = 2200;   // milliseconds without a word from the server, which sends the time of day every second
  const AGAIN = 4000;    // milliseconds after which a connection that says nothing is given up for a new one
  const at = (id) => document.getElementById(id);
  let source = null, opened = 0, heard = -Infinity, why = "";

  function connect() {
    if (source) source.close();
    opened = performance.now();
    source = new EventSource("/events");
    source.onmessage = show;
    source.onerror = () => lost(source.readyState === EventSource.CLOSED
      ? "This page was ended. To go on, open the address that the program prints when it is started again."
      : "The connection is lost.");
  }

  function show(event) {
    const { sections, trouble } = JSON.parse(event.data);
    for (const [id, html] of Object.entries(sections)) at(id).innerHTML = html;
    heard = performance.now();
    if (trouble) lost(`The case cannot be read: ${trouble}`);
    else live();
  }

  function live() {
    if (document.body.dataset.live) return;
    why = "";
    document.body.dataset.live = "yes";
    at("lost").hidden = true;
    document.title = document.title.replace("NOT LIVE ", "");
  }

  function lost(reason) {
    if (document.body.dataset.live) document.title = `NOT LIVE ${document.title}`;
    delete document.body.dataset.live;
    at("lost").hidden = false;
    const of = document.querySelector("#now time").textContent;
    say("why", why = reason);
    say("old", `What stands below is of ${of}. Look at the log itself.`);
  }

  function say(id, words) {   // only when it changed, or a screen reader would say it again and again
    if (at(id).textContent !== words) at(id).textContent = words;
  }

  function watch() {
    const now = performance.now();
    if (now - heard < SILENT) return;
    if (now - opened > SILENT) lost(why || "The connection is lost.");
    if (now - Math.max(heard, opened) > AGAIN) connect();
  }

  if (location.search) history.replaceState(null, "", "/");   // the token is spent; it need not stay in sight
  connect();
  setInterval(watch, 250);
  addEventListener("pageshow", watch);
  document.addEventListener("visibilitychange", watch);
})();
