// The page of the second screen: shows what the link brings, and says when it may be old.
"use strict";

(function () {
  // Milliseconds: between two questions to Runner whether it is there; after which a page
  // without an answer is no longer shown as live; and how long the link may take to open.
  const ASK = 1000, FRESH = 3000, OPENING = 5000;
  const SLOWEST = 5000;
  const version = document.documentElement.dataset.version;
  const at = (name) => document.getElementById(name);

  let link = null, tries = 0, began = 0, again = 0;
  // When this link last proved that all it had brought was of then, by both clocks of the
  // device; and when any link last did.
  let proof = 0, proofSteady = 0, sure = 0, delay = 0, why = "";
  let question = 0, paired = false, scrolled = 0, shown = {};

  function keep(name, value) {
    try {
      if (value === null) sessionStorage.removeItem(name);
      else sessionStorage.setItem(name, value);
    } catch (refused) { /* Without storage the code is asked for again after a reload. */ }
  }

  function kept(name) {
    try { return sessionStorage.getItem(name); } catch (refused) { return null; }
  }

  function empty(place) {
    while (place.firstChild) place.removeChild(place.firstChild);
    return place;
  }

  function add(place, kind, words) {
    const made = document.createElement(kind);
    if (words) made.textContent = words;
    place.appendChild(made);
    return made;
  }

  function pieces(place, text) {
    empty(place);
    for (const [words, weight] of text) add(place, "span", words).className = weight;
  }

  function lines(place, texts) {
    empty(place);
    for (const text of texts) add(place, "p", text);
  }

  function items(all) {
    const box = at("list"), top = box.scrollTop;
    const place = empty(at("items"));
    let now = null;
    for (const [text, current] of all) {
      const item = add(place, "li", "");
      pieces(item, text);
      if (current) {
        item.setAttribute("aria-current", "step");
        now = item;
      }
    }
    // Whoever just looked further along the list is not pulled back at once.
    const moved = Date.now() - scrolled < 8000;
    box.scrollTop = moved || !now ? top : now.offsetTop - box.clientHeight / 3;
  }

  function figures(all) {
    const place = empty(at("figures"));
    for (const [title, text, changed] of all) {
      const row = add(place, "div", "");
      const name = add(row, "dt", title);
      if (changed) {
        add(name, "span", ", ");
        add(name, "span", "changed").className = "underline";
      }
      add(row, "dd", text);
    }
    at("reckoned").hidden = all.length === 0;
  }

  function crew(all) {
    const place = empty(at("crew"));
    for (const text of all) pieces(add(place, "li", ""), text);
    at("flown").hidden = all.length === 0;
  }

  const plain = (name, lead) => (text) => { at(name).textContent = text ? (lead || "") + text : ""; };
  const weighed = (name) => (text) => pieces(at(name), text);
  const draw = {
    title: plain("title"), phases: weighed("phases"), lead: weighed("lead"),
    asked: plain("asked"), wanted: weighed("wanted"), who: weighed("who"),
    remark: plain("remark"), heard: weighed("heard"), said: plain("said", "Runner: "),
    notes: (texts) => lines(at("notes"), texts), troubles: (texts) => lines(at("troubles"), texts),
    items: items, figures: figures, crew: crew, next: plain("next", "Next list: "),
    microphone: plain("microphone"), crewlink: plain("crewlink"),
  };

  function fresh() {
    if (!link || link.readyState !== WebSocket.OPEN || document.hidden || !proof) return false;
    // Both clocks: one may be set back, the other may stand while the device sleeps.
    return Math.max(Date.now() - proof, performance.now() - proofSteady) < FRESH;
  }

  function look() {
    const live = fresh();
    document.body.className = live ? "" : "stale";
    const words = sure
      ? "Not connected: what you see may be old." : "Not connected yet.";
    if (!live && at("stale").textContent !== words) at("stale").textContent = words;
    at("since").textContent = live ? "" : since();
    at("link").textContent = live ? "Connected to Runner, delay " + delay + " ms." : "";
    document.title = live ? (shown.asked ? shown.asked + ": Runner" : "Runner") : "Not connected: Runner";
    for (const button of document.querySelectorAll("button")) button.disabled = !live;
    at("keys").hidden = !paired;
    at("pair").hidden = paired || shown.finished === true;
  }

  function since() {
    const told = [];
    if (why) told.push(why);
    if (sure) told.push("Last sure " + Math.max(1, Math.round((Date.now() - sure) / 1000)) + " s ago.");
    told.push("Trying again.");
    return told.join(" ");
  }

  function take(message) {
    if (message.version !== undefined) {
      if (message.version !== version && kept("runner-page") !== message.version) {
        keep("runner-page", message.version);
        location.reload();
        return;
      }
      shown = {};
      const token = kept("runner-token");
      paired = false;
      if (token) send({ token: token });
    }
    if (message.question !== undefined) question = message.question;
    if (message.parts) {
      for (const name of Object.keys(message.parts)) {
        shown[name] = message.parts[name];
        if (draw[name]) draw[name](message.parts[name]);
      }
      if (message.parts.asked !== undefined) at("went").textContent = "";
    }
    if (message.token !== undefined) keep("runner-token", message.token);
    if (message.paired !== undefined) {
      paired = message.paired;
      if (!paired) keep("runner-token", null);
      at("code").value = "";
    }
    if (message.pairing !== undefined) at("paired").textContent = message.pairing;
    if (message.went !== undefined) at("went").textContent = message.went;
    if (message.echo !== undefined && message.echo > proof) {
      proof = sure = message.echo;
      delay = Math.max(0, Date.now() - message.echo);
      proofSteady = performance.now() - delay;
      tries = 0;
      why = "";
    }
    look();
  }

  function send(message) {
    if (link && link.readyState === WebSocket.OPEN) link.send(JSON.stringify(message));
  }

  function open() {
    clearTimeout(again);
    again = 0;
    began = Date.now();
    proof = 0;
    const mine = link = new WebSocket("ws://" + location.host + "/link");
    mine.onopen = () => { if (mine === link) send({ ask: Date.now() }); };
    mine.onmessage = (event) => { if (mine === link) take(JSON.parse(event.data)); };
    mine.onclose = (event) => { if (mine === link) lost(event.reason); };
  }

  function lost(reason) {
    const old = link;
    link = null;
    if (old) old.close();
    why = reason || "";
    tries += 1;
    const pause = Math.min(SLOWEST, 250 * Math.pow(2, tries)) * (0.75 + Math.random() / 2);
    if (!again) again = setTimeout(open, pause);
    look();
  }

  function beat() {
    if (link && link.readyState === WebSocket.CONNECTING && Date.now() - began > OPENING) lost("");
    else if (link && link.readyState === WebSocket.OPEN) {
      send({ ask: Date.now() });
      // A link that brings nothing may be dead long before the system notices.
      if (!document.hidden && !fresh() && Date.now() - Math.max(began, proof) > 2 * FRESH) lost("");
    }
    look();
  }

  function seen() {
    // What was shown before the page was out of sight is old until Runner answers again.
    proofSteady = -Infinity;
    look();
    if (document.hidden) return;
    began = Date.now();
    if (link) send({ ask: Date.now() });
    else open();
  }

  at("keys").addEventListener("click", (event) => {
    const key = event.target.dataset.key;
    if (key && fresh()) send({ key: key, question: question });
  });
  at("pair").addEventListener("submit", (event) => {
    event.preventDefault();
    if (fresh()) send({ pair: at("code").value });
  });
  for (const moved of ["wheel", "touchmove", "keydown"]) {
    at("list").addEventListener(moved, () => { scrolled = Date.now(); }, { passive: true });
  }
  document.addEventListener("visibilitychange", seen);
  window.addEventListener("pageshow", (event) => { if (event.persisted) seen(); });
  window.addEventListener("online", () => { if (!link) open(); });
  setInterval(beat, ASK);
  open();
  look();
})();
