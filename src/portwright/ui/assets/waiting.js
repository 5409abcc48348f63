// Tells on a waiting page how far the work is, and opens the result when it is there.
const words = document.querySelector("[data-look]");
const look = async () => {
  try {
    const answer = await fetch(words.dataset.look, { cache: "no-store" });
    if (answer.status !== 202) return location.reload();
    const said = await answer.text();
    if (words.textContent !== said) words.textContent = said;
  } catch {
    words.textContent = "Not connected. Trying again …";
  }
  setTimeout(look, 700);
};
setTimeout(look, 700);
