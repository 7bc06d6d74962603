// Cookies with anything but ASCII in them hide all others from the server: what a script can see of them is deleted,
// on every path and for every domain above this one, and the page is asked for once more.

const odd = () => document.cookie.split("; ").filter((pair) => /[^\x20-\x7e]/.test(pair)).map((pair) => pair.split("=")[0]);

const paths = location.pathname.split("/").map((_, n, parts) => parts.slice(0, n + 1).join("/") || "/");
const hosts = location.hostname.split(".").map((_, n, parts) => parts.slice(n).join("."));
const found = odd();
for (const name of found) {
  for (const path of paths) {
    document.cookie = `${name}=; path=${path}; max-age=0`;
    for (const host of hosts) document.cookie = `${name}=; path=${path}; domain=${host}; max-age=0`;
  }
}
if (found.length && !odd().length) {
  const there = new URL(location.href);
  there.searchParams.delete("cookies");
  location.replace(there);
}
