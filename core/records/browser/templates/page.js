// Shows and hides rows and points by machine, verdict and day; without it the page shows everything.
const form = document.getElementById("filter");
const fitting = (thing) =>
  (!form.machine.value || !thing.dataset.machine || thing.dataset.machine === form.machine.value) &&
  (!form.verdict.value || thing.dataset.verdict === form.verdict.value) &&
  (!form.since.value || (thing.dataset.day && thing.dataset.day >= form.since.value)) &&
  (!form.until.value || (thing.dataset.day && thing.dataset.day <= form.until.value));
const rows = document.querySelectorAll("#coupons tbody tr");
const points = document.querySelectorAll("svg g[data-day]");
const charts = document.querySelectorAll("section[data-machine]");
const filter = () => {
  let count = 0;
  rows.forEach((row) => { row.hidden = !fitting(row); count += row.hidden ? 0 : 1; });
  points.forEach((point) => { point.style.display = fitting(point) ? "" : "none"; });
  charts.forEach((chart) => { chart.hidden = Boolean(form.machine.value) && chart.dataset.machine !== form.machine.value; });
  form.count.value = count + " / " + rows.length;
};
form.hidden = false;
form.addEventListener("input", filter);
filter();
