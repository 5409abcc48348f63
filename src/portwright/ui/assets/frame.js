// Runs before the first paint: theme from the view cookie, and a watch on the connection.
(() => {
  const root = document.documentElement;
  const night = window.matchMedia("(prefers-color-scheme: dark)");
  const chosen = () => (document.cookie.match(/(?:^|; )pw_view=([^;]*)/)?.[1] || "").split(".")[2] || "auto";
  const paint = (theme) => {
    const dark = theme === "dark" || (theme === "auto" && night.matches);
    root.dataset.theme = dark ? "dark" : "light";
    window.dispatchEvent(new Event("pw-theme"));
  };
  paint(chosen());
  night.addEventListener("change", () => paint(chosen()));
  window.portwright = {
    keepView(text) {
      document.cookie = `pw_view=${text}; path=/; max-age=31536000; samesite=strict`;
      paint(chosen());
    },
    dark: () => root.dataset.theme === "dark",
    linked: () => root.dataset.link !== "down",
  };
  const mark = () => {
    const socket = window.socket;
    if (!socket) return;
    const down = window.did_handshake && (!socket.connected || !navigator.onLine && location.hostname !== "127.0.0.1");
    const state = down ? "down" : "up";
    if (root.dataset.link !== state) {
      root.dataset.link = state;
      window.dispatchEvent(new Event("pw-link"));
    }
  };
  setInterval(mark, 250);
})();
