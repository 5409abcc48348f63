// Draws the one chart of the guest page, again when the window or the light changes.
addEventListener("DOMContentLoaded", () => {
  const spec = JSON.parse(document.getElementById("spec").textContent);
  const place = document.getElementById("chart");
  const draw = () => {
    const { width, height } = place.getBoundingClientRect();
    const theme = document.documentElement.dataset.theme;
    place.innerHTML = window.portwrightChart.draw(spec, { width, height, theme, text: width < 560 ? 13 : 15, legend: true });
  };
  addEventListener("resize", draw);
  addEventListener("pw-theme", draw);
  draw();
});
