'use strict';
(() => {
  const table = document.getElementById('table'), form = document.getElementById('ask'), body = table.tBodies[0];
  const rows = [...body.rows], heads = [...table.tHead.rows[0].cells];
  const words = [...form.elements.word.options].map(one => one.value);
  const text = row => row.dataset.t || (row.dataset.t = (row.cells[0].textContent + ' ' + row.cells[1].textContent).toLowerCase());
  const key = {
    text: cell => cell.textContent,
    // the worst word first; what has none last
    rank: cell => { const at = words.indexOf(cell.textContent); return at < 1 ? 99 : at; },
    number: cell => { const said = cell.dataset.n ?? cell.textContent; return said === '' ? -Infinity : Number(said); },
  };
  heads.forEach((head, at) => {
    const button = document.createElement('button');
    button.type = 'button';
    button.textContent = head.textContent;
    head.replaceChildren(button);
    button.addEventListener('click', () => {
      // figures begin with the greatest, words and names with the first
      const first = head.dataset.by === 'number' ? 'descending' : 'ascending';
      const other = first === 'ascending' ? 'descending' : 'ascending';
      const way = head.getAttribute('aria-sort') === first ? other : first;
      heads.forEach(one => one.removeAttribute('aria-sort'));
      head.setAttribute('aria-sort', way);
      const of = key[head.dataset.by], sign = way === 'ascending' ? 1 : -1;
      const keyed = rows.map((row, number) => [of(row.cells[at]), number, row]);
      keyed.sort((a, b) => a[0] < b[0] ? -sign : a[0] > b[0] ? sign : a[1] - b[1]);
      body.append(...keyed.map(one => one[2]));
    });
  });
  const filter = () => {
    const said = form.elements.text.value.trim().toLowerCase(), word = form.elements.word.value;
    const hazard = form.elements.hazard.selectedIndex;  // 0: any, and then the overall word is asked
    let many = 0;
    for (const row of rows) {
      const own = row.cells[hazard ? 2 + hazard : 2].textContent;
      const fits = (!said || text(row).includes(said)) && (!word || own === word);
      row.hidden = !fits;
      many += fits;
    }
    form.elements.many.value = many === rows.length ? '' : many + ' of ' + rows.length;
  };
  form.addEventListener('input', filter);
  form.addEventListener('submit', event => event.preventDefault());
  form.hidden = false;
})();
