import { expect, test } from "vitest";
import { loaded, placeOf, to } from "./router";

test("addresses lead to screens", () => {
  expect(placeOf("")).toEqual({ screen: "today", job: "", rest: [] });
  expect(placeOf("#/job/alder-17")).toEqual({ screen: "home", job: "alder-17", rest: [] });
  expect(placeOf("#/job/alder-17/section/E1/3.5")).toEqual({ screen: "section", job: "alder-17", rest: ["E1", "3.5"] });
  expect(placeOf("#/set/phone")).toEqual({ screen: "set", job: "", rest: ["phone"] });
});

test("an address that leads nowhere says so, whatever it holds", () => {
  for (const hash of ["#/nowhere", "#/job/a/nowhere", "#/constructor", "#/job/a/toString", "#/%E0%A4%A"])
    expect(placeOf(hash).screen).toBe("lost");
});

test("an address made is an address read", () => {
  const strange = "7/a ?#ü";
  expect(placeOf(to("job", strange, "read", strange))).toEqual({ screen: "read", job: strange, rest: [strange] });
});

test("a screen that has no file shows the lost one", async () => {
  expect(await loaded("no-such-screen")).toBe(await loaded("lost"));
});
