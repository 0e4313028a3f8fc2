// Finds words of the handbook. No library: the words stand in search-words.js, and a page that is opened from a folder may read
// no other file. Without script the form stays hidden; everything else works.
(function () {
  "use strict";
  var root = document.documentElement.getAttribute("data-root") || "";
  var form = document.querySelector("form.search");
  var field = document.getElementById("search");
  var found = document.getElementById("found");
  var count = document.getElementById("count");
  var hits = document.getElementById("hits");
  if (!form || typeof handbook === "undefined") return;

  // Capitals, accents and hyphens don't matter.
  function plain(text) {
    return text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
  }
  function words(text) {
    return plain(text).split(/[^\p{L}\p{N}#.]+/u).filter(Boolean);
  }
  var all = handbook.map(function (entry) {
    return { entry: entry, title: words(entry.t), words: words(entry.w) };
  });

  // Every word that is asked for begins some word; in the title it counts for more, and most if it is the whole word.
  function score(one, asked) {
    var total = 0;
    for (var i = 0; i < asked.length; i += 1) {
      var word = asked[i];
      var begins = function (w) { return w.indexOf(word) === 0; };
      if (one.title.indexOf(word) >= 0) total += 8;
      else if (one.title.some(begins)) total += 4;
      else if (one.words.indexOf(word) >= 0) total += 2;
      else if (one.words.some(begins)) total += 1;
      else return 0;
    }
    return total + (one.title.length === asked.length ? 1 : 0);
  }

  function look() {
    var asked = words(field.value);
    hits.textContent = "";
    found.hidden = asked.length === 0;
    if (asked.length === 0) { count.textContent = ""; return; }
    var best = all
      .map(function (one, n) { return { one: one, n: n, score: score(one, asked) }; })
      .filter(function (hit) { return hit.score > 0; })
      .sort(function (a, b) { return b.score - a.score || a.n - b.n; });
    best.slice(0, 40).forEach(function (hit) {
      var item = document.createElement("li");
      var link = document.createElement("a");
      link.href = root + hit.one.entry.u;
      link.textContent = hit.one.entry.t;
      item.append(link, " (" + hit.one.entry.k + ")");
      hits.append(item);
    });
    var many = best.length === 1 ? "1 page or word" : best.length + " pages or words";
    count.textContent = best.length === 0 ? "Nothing holds all of these words." :
      many + (best.length > 40 ? ", the first 40 shown." : ".");
  }

  form.hidden = false;
  field.addEventListener("input", look);
  form.addEventListener("submit", function (event) {
    event.preventDefault();
    look();
    var first = hits.querySelector("a");
    if (first) first.focus();
  });
})();
