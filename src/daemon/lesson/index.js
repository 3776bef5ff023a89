
"use strict";
// One track plays at a time; a button goes to its place in the player above it.
const players = [...document.querySelectorAll("audio")];
for (const player of players) {
  player.addEventListener("play", () => players.forEach(other => other !== player && other.pause()));
}
for (const button of document.querySelectorAll("button[data-at]")) {
  const player = button.closest("li, section").querySelector("audio");
  button.addEventListener("click", () => {
    player.currentTime = Number(button.dataset.at);
    // Another one may begin meanwhile: then this one need not.
    player.play().catch(() => {});
  });
}
