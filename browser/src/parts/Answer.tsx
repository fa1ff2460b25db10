/** An answer of more than one sentence: the first is the answer, the others tell what it rests on. */
export function Answer({ words }: { words: string }) {
  const [first, ...rest] = words.split(/(?<=\.) (?=[A-Z])/);
  return (
    <>
      <p class="answer">{first}</p>
      {rest.length > 0 && <p>{rest.join(" ")}</p>}
    </>
  );
}
