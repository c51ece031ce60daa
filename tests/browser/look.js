// Facts about a page as it is laid out, for the tests: returned as one object.
(() => {
  const visible = (element) => {
    const box = element.getBoundingClientRect();
    const clipped = getComputedStyle(element.closest("caption") ?? element).clipPath;
    return box.width > 0 && box.height > 0 && clipped === "none" && element.checkVisibility();
  };
  const channels = (colour) => (colour.match(/[\d.]+/g) ?? [0, 0, 0, 0]).map(Number);
  const luminance = (colour) => {
    const [r, g, b] = channels(colour).slice(0, 3).map((value) => {
      const part = value / 255;
      return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const behind = (element) => {
    for (let each = element; each; each = each.parentElement) {
      const colour = getComputedStyle(each).backgroundColor;
      const alpha = channels(colour)[3];
      if (alpha === undefined || alpha > 0) return colour;
    }
    return "rgb(255, 255, 255)";
  };
  const contrast = (element) => {
    const style = getComputedStyle(element);
    const colour = element instanceof SVGElement ? style.fill : style.color;
    const [dark, light] = [luminance(colour), luminance(behind(element))].sort((a, b) => a - b);
    return (light + 0.05) / (dark + 0.05);
  };
  const size = (element) => {
    const scale = element instanceof SVGGraphicsElement ? element.getScreenCTM().a : 1;
    return parseFloat(getComputedStyle(element).fontSize) * scale;
  };
  const texts = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    if (node.textContent.trim() && visible(element)) {
      const text = node.textContent.trim().slice(0, 40);
      texts.push({ text, size_px: size(element), contrast: contrast(element) });
    }
  }
  const root = document.documentElement;
  const beyond = [...document.querySelectorAll("body *")]
    .filter((element) => visible(element) && element.getBoundingClientRect().right > root.clientWidth + 0.5)
    .map((element) => `${element.tagName} ${element.textContent.trim().slice(0, 40)}`);
  const scrolled = [...document.querySelectorAll(".table")]
    .filter((element) => element.scrollWidth > element.clientWidth)
    .map((element) => element.querySelector("caption").textContent);
  return {
    wide_px: root.scrollWidth,
    room_px: root.clientWidth,
    paper: luminance(behind(document.body)),
    images: [...document.images].map((image) => image.naturalWidth),
    drawings: [...document.querySelectorAll("svg")].filter(visible).length,
    texts,
    beyond,
    scrolled,
  };
})()
