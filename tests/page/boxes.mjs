// SPDX-License-Identifier: GPL-3.0-or-later
// Where text stands on a page, and what of it is in another's place or too small.

// In the browser: a box for each line of each text that is seen.
export const textBoxes = () => {
  const out = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    if (!node.data.trim()) continue;
    const style = getComputedStyle(node.parentElement);
    if (style.visibility === "hidden" || node.parentElement.closest("thead") && style.position !== "static" ||
        node.parentElement.closest("thead")?.getBoundingClientRect().width <= 1) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const box of range.getClientRects()) {
      if (box.width < 1 || box.height < 1) continue;
      // Letters take the middle of their line.
      const size = parseFloat(style.fontSize), middle = (box.top + box.bottom) / 2;
      out.push({ left: box.left, right: box.right, top: middle - 0.35 * size, bottom: middle + 0.35 * size,
                 size, text: node.data.trim().slice(0, 40) });
    }
  }
  return out;
};

// Pairs that share more than a pixel either way.
export const overlapping = (boxes) => {
  const out = [], sorted = [...boxes].sort((a, b) => a.top - b.top);
  for (let i = 0; i < sorted.length; i += 1)
    for (let j = i + 1; j < sorted.length && sorted[j].top < sorted[i].bottom - 1; j += 1) {
      const [a, b] = [sorted[i], sorted[j]];
      if (a.left < b.right - 1 && b.left < a.right - 1) out.push(`"${a.text}" and "${b.text}"`);
    }
  return out;
};

export const tooSmall = (boxes) => boxes.filter((box) => box.size < 12).map((box) => `${box.text} (${box.size} px)`);
