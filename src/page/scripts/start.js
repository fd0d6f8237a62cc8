// SPDX-License-Identifier: MIT
// Puts the page together once it is there.
(function () {
  const root = document.documentElement;
  const charts = [];
  let flow = null, bed = null, path = null, measured = [];

  // A stretch was chosen somewhere: all pictures show it.
  Meltlag.choose = function (i, from) {
    if (flow) flow.choose(i, from);
    if (bed) bed.choose(i, from);
  };
  Meltlag.point = function (i) {
    if (bed) bed.point(i);
  };

  function amount(place) {
    const off = Math.abs(place.off_mm3).toFixed(2) + ' mm³ too ' + (place.off_mm3 > 0 ? 'much' : 'little');
    if (place.blob_mm3 > 0) {
      return off + ', blob ' + place.blob_mm3.toFixed(2) + ' mm³ (ball ' + place.blob_ball_mm.toFixed(2) + ' mm)';
    }
    if (place.gap_mm > 0) return off + ', bead ' + place.gap_mm.toFixed(1) + ' mm late';
    const share = place.wanted_mm3 > 0 ? ' (' + (place.off_mm3 > 0 ? '+' : '−') +
        Meltlag.percent(Math.abs(place.off_mm3) / place.wanted_mm3, 0) + ')' : '';
    return off + share + ' over ' + place.length_mm.toFixed(1) + ' mm';
  }

  // The stretch of the place's line that ends nearest to it.
  function stretchOf(place) {
    let best = Meltlag.atLine(path, place.line), bestOff = Infinity;
    for (let i = best; i < path.count && path.line[i] === path.line[best]; ++i) {
      const off = Math.hypot(path.x[i] - place.x_mm, path.y[i] - place.y_mm);
      if (off < bestOff && path.length[i] > 0) { bestOff = off; best = i; }
    }
    return best;
  }

  // "12", or "12 and 29 more, 3–40" where the place comes again above and below.
  function layersOf(place) {
    if (place.times === 1) return String(place.layer + 1);
    return (place.layer + 1) + ' and ' + (place.times - 1) + ' more, ' + (place.first_layer + 1) + '–' + (place.last_layer + 1);
  }

  function writeWorst(host) {
    const body = Meltlag.make('tbody', {});
    path.worst.forEach((place, k) => {
      const row = Meltlag.make('tr', {});
      const show = () => {
        for (const other of body.children) other.classList.remove('chosen');
        row.classList.add('chosen');
        Meltlag.choose(stretchOf(place), 'worst');
        document.getElementById('bed').scrollIntoView({block: 'start'});
      };
      const cell = (text, name, label) => Meltlag.make('td', {class: name, 'data-label': label || ''}, [text]);
      row.append(Meltlag.make('th', {scope: 'row', class: 'right'}, [String(k + 1)]), cell(place.what, 'left what'),
                 cell(amount(place), 'left much'),
                 cell(place.where + ', X ' + place.x_mm.toFixed(0) + ' Y ' + place.y_mm.toFixed(0), 'left where'),
                 cell(layersOf(place), 'right', 'layer '), cell(Meltlag.clock(place.at_s, 0), 'left'),
                 cell(String(place.line), 'right', 'line '),
                 Meltlag.make('td', {class: 'go'}, [Meltlag.make('button', {type: 'button', class: 'show', onclick: show,
                                                                           'aria-label': 'Show place ' + (k + 1)}, ['Show'])]));
      body.append(row);
    });
    const head = ['', 'what', 'how much', 'where', 'layer', 'when', 'line', ''].map(
        (text, k) => Meltlag.make('th', {scope: 'col', class: k === 0 || k === 4 || k === 6 ? 'right' : 'left'}, [text]));
    host.append(Meltlag.make('div', {class: 'wide'}, [Meltlag.make('table', {}, [
      Meltlag.make('thead', {}, [Meltlag.make('tr', {}, head)]), body])]));
  }

  function drawPath() {
    path = Meltlag.readPath();
    if (!path || path.count === 0) return;
    const byId = (id) => document.getElementById(id);
    flow = new Meltlag.Flow(path, byId('flow'), byId('flow-tools'), byId('flow-readout'));
    byId('flow-readout').textContent = flow.hint();
    if (path.layers.length) {
      bed = new Meltlag.Bed(path, byId('bed'), byId('bed-tools'), byId('bed-readout'));
      flow.showLayer(bed.layer);
      byId('bed-readout').textContent = 'Click a bead to see its line, its numbers and its moment. Drag to move, wheel or two fingers to zoom.';
    }
    writeWorst(byId('worst'));
  }

  function recolour() {
    for (const chart of charts) chart.recolour();
    if (flow) for (const chart of Object.values(flow.charts)) chart.recolour();
    if (bed) bed.recolour();
    for (const kind of measured) kind.recolour();
  }

  // Canvases keep the colours they were drawn with: on paper those of a light page.
  function inPrintColours(printing) {
    root.classList.toggle('printing', printing);
    recolour();
    for (const group of Meltlag.groups) for (const chart of group.charts) chart.draw();
    if (bed) bed.drawNow();
  }

  function start() {
    performance.mark('start');
    for (const figure of document.querySelectorAll('figure[data-chart]')) charts.push(Meltlag.drawChartBlock(figure));
    drawPath();
    measured = Meltlag.drawMeasured();
    performance.mark('built');
    window.matchMedia('(prefers-color-scheme: dark)').addEventListener('change', recolour);
    window.addEventListener('resize', () => {
      for (const group of Meltlag.groups) group.refresh();
      if (bed) bed.redraw();
    });
    window.addEventListener('beforeprint', () => {
      for (const details of document.querySelectorAll('details')) details.open = true;
      inPrintColours(true);
    });
    window.addEventListener('afterprint', () => inPrintColours(false));
    // After the first frame with everything in it.
    requestAnimationFrame(() => requestAnimationFrame(() => {
      root.dataset.openedMs = String(Math.round(performance.now()));
      root.dataset.ready = 'true';
    }));
    Meltlag.flow = flow;
    Meltlag.bed = bed;
    Meltlag.path = path;
    Meltlag.measured = measured;
  }
  start();
})();
