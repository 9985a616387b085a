/** Whether there is room for two or three columns. */

class Wide {
  two = $state(false);

  constructor() {
    const query = matchMedia("(min-width: 64rem)");
    this.two = query.matches;
    query.addEventListener("change", (event) => (this.two = event.matches));
  }
}

export const wide = new Wide();
