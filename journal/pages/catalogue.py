"""Every phrase of the recipe cards and of the cautions, in each language that they can be had in.

A phrase has places in braces, which are filled with texts, or with words that have a weight
or a figure of their own: so the order of a sentence is the language's. What the maker wrote,
and the names of things, stand as they are written in every language. Numbers and units are
the same in all, with a point before decimals.

The Spanish is ours and has not yet been read by a native speaker; every card says so. It
keeps to infinitives, as recipes do, and to words that are understood on both sides of the
ocean: pastilla a bar, tanda a round through the mould, recipiente a pot, tapete the silicone
mat, verter to pour.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Final, Literal

from msgspec import Struct

from journal.pages.leaf import Amount, CardWords, Word
from journal.pages.parts import Span

Language = Literal["en", "es"]
LANGUAGES: Final[tuple[Language, ...]] = ("en", "es")
#: How each is named on a page, and to a browser.
CODES: Final[Mapping[Language, str]] = {"en": "en-GB", "es": "es"}

# fmt: off
PHRASES: Final[Mapping[str, tuple[str, str]]] = {
    # The head of a card.
    "bars.one": ("{n}\u00a0bar", "{n}\u00a0pastilla"),
    "bars.more": ("{n}\u00a0bars", "{n}\u00a0pastillas"),
    "for": ("For\u00a0{bars}", "Para\u00a0{bars}"),
    "leaf": ("{n} of {all}", "{n} de {all}"),
    "trim.close": ("close", "ceñido"),
    "trim.straight": ("straight", "recto"),
    "variant": ("variant {name}", "variante {name}"),
    # Rounds through the mould.
    "rounds.single": ("One round of the mould, {bars}.", "Una tanda del molde, {bars}."),
    "rounds.even": ("{n} rounds of {bars}", "{n} tandas de {bars}"),
    "rounds.even.steps": ("{rounds} through the mould. The steps are for one round.",
                          "{rounds} en el molde. Los pasos son para una tanda."),
    "rounds.two": ("One round of {bars}, then one of {last}",
                   "Una tanda de {bars}, luego una de {last}"),
    "rounds.more": ("{n} rounds of {bars}, then one of {last}",
                    "{n} tandas de {bars}, luego una de {last}"),
    "rounds.steps": ("{rounds} through the mould. The steps are for {bars}.",
                     "{rounds} en el molde. Los pasos son para {bars}."),
    "needed.one": (" {n}\u00a0mat piece needed{few}.",
                   " Hace falta {n}\u00a0pieza de tapete{few}."),
    "needed.more": (" {n}\u00a0mat pieces needed{few}.",
                    " Hacen falta {n}\u00a0piezas de tapete{few}."),
    "needed.few": (", all that there are for {cavities} cavities",
                   ", todas las que hay para {cavities} cavidades"),
    "rounds.apart": (" Melted round by round a little more stays in the jugs.",
                     " Fundiendo tanda por tanda queda algo más en las jarras."),
    # To weigh.
    "weigh": ("To weigh", "Para pesar"),
    "pot": ("{pot} pot", "Recipiente {pot}"),
    "leftover": ("{name}, leftover", "{name}, sobrante"),
    "leftover.tinted": ("tinted {colour}", "teñido con {colour}"),
    "leftover.scented": ("{percent} {oil} in it", "lleva {percent} de {oil}"),
    "leftover.short": ("only {amount} there", "solo hay {amount}"),
    "into": ("{what}, into the {layer}", "{what}, en la capa {layer}"),
    "by eye": ("by eye", "a ojo"),
    "about": ("about {amount}", "aprox. {amount}"),
    "each.round": ("a round of\u00a0{bars}:\u00a0", "una tanda de\u00a0{bars}:\u00a0"),
    "each.last": ("; the last, of\u00a0{bars}:\u00a0", "; la última, de\u00a0{bars}:\u00a0"),
    "unit.tsp": ("tsp", "cdta"),
    "unit.drop": ("drop", "gota"),
    "unit.drops": ("drops", "gotas"),
    "limit.none": ("no limit on the shelf: look at its certificate",
                   "sin límite en el estante: mirar su certificado"),
    "limit.over": ("over its limit: {share} of the layer, {limit} allowed",
                   "por encima de su límite: {share} de la capa, se permite {limit}"),
    "limit.together": ("over the limit with the layer's other scent: {used} of it",
                       "por encima del límite con la otra fragancia de la capa: {used} de él"),
    # The steps.
    "and": ("{names} and {last}", "{names} y {last}"),
    "take": ("Take {pieces} “{name}”{cut}{size}. Try one in its cavity: it must lie flat.",
             "Tomar {pieces} “{name}”{cut}{size}. Probar una en su cavidad: debe quedar plana."),
    "take.cut": (", cut {trim}", ", corte {trim}"),
    "cut": ("Cut {pieces} from the mat “{name}”{cut}{size}. Try one in its cavity: it must lie"
            " flat.",
            "Cortar {pieces} del tapete “{name}”{cut}{size}. Probar una en su cavidad: debe quedar"
            " plana."),
    "pieces.one": ("{n}\u00a0piece", "{n}\u00a0pieza"),
    "pieces.more": ("{n}\u00a0pieces", "{n}\u00a0piezas"),
    "cut.close": ("close to the motif", "ceñido al motivo"),
    "cut.straight": ("straight, outside the motif", "recto, por fuera del motivo"),
    "cut.margin": ("straight, {margin} outside the motif",
                   "recto, a {margin} por fuera del motivo"),
    "lay": ("Lay {each} in its cavity, relief up, on a dab of hot base. Press it flat.",
            "Colocar {each} en su cavidad, con el relieve hacia arriba, sobre un toque de base"
            " caliente. Presionar hasta que quede plana."),
    "lay.one": ("the piece", "la pieza"),
    "lay.each": ("each piece", "cada pieza"),
    "lies": (" It lies in its cavity, relief up.",
             " Queda en su cavidad, con el relieve hacia arriba."),
    "firm": ("Leave it until it is firm to the touch.", "Dejar hasta que esté firme al tacto."),
    "unmould": ("Leave it until it is cold and firm, best overnight. Unmould.",
                "Dejar hasta que esté frío y firme, mejor toda la noche. Desmoldar."),
    "peel": ("Peel the mat off slowly, from one corner.",
             "Despegar el tapete despacio, desde una esquina."),
    "slices": ("Cut each block into {n} bars.", "Cortar cada bloque en {n} pastillas."),
    "tidy": ("Tidy the edges, blade away from the hand.",
             "Repasar los bordes, con la hoja alejándose de la mano."),
    "melt": ("Melt the {layer}: {bases}.", "Fundir la capa {layer}: {bases}."),
    "melt.pot": ("Melt the {pot} pot, for {layers} together: {bases}.",
                 "Fundir el recipiente {pot}, para {layers} a la vez: {bases}."),
    "melt.base": ("{amount} {base}", "{amount} de {base}"),
    "melt.and": (" and ", " y "),
    "melt.leftover": ("{name}, from the leftovers", "{name}, de los sobrantes"),
    "scorch": (" Never above {window} ({other}).", " Nunca por encima de {window} ({other})."),
    "tint": ("Tint the {layer} by eye with {colour}{aim}.",
             "Teñir la capa {layer} a ojo con {colour}{aim}."),
    "tint.aim": (", aiming for {aim}", ", buscando {aim}"),
    "stir.by-eye": ("Stir {colour} into the {layer} by eye{aim}.",
                    "Incorporar {colour} a la capa {layer} a ojo{aim}."),
    "stir.colour": ("Stir in {amount} {colour}. Leave no dry specks.",
                    "Incorporar {amount} de {colour}. Que no queden motas secas."),
    "stir.plain": ("Stir in {colour}.", "Incorporar {colour}."),
    "stir.scent": ("Stir in {amount} {oil}{limit}.", "Incorporar {amount} de {oil}{limit}."),
    "stir.scent.at": ("At {window} ({other}) stir in {amount} {oil}{limit}.",
                      "A {window} ({other}) incorporar {amount} de {oil}{limit}."),
    "spritz": ("Spritz with alcohol.", "Rociar con alcohol."),
    "spritz.again": ("Spritz again.", "Rociar otra vez."),
    "pour": ("Pour the {layer}{into}.", "Verter la capa {layer}{into}."),
    "pour.at": ("At {window} ({other}) pour the {layer}{into}.",
                "A {window} ({other}) verter la capa {layer}{into}."),
    "pour.relief": (", into the relief of each piece: about {amount}{scrape}",
                    ", en el relieve de cada pieza: aprox. {amount}{scrape}"),
    "pour.all": (": about {amount} in all{scrape}", ": aprox. {amount} en total{scrape}"),
    "pour.bar": (": about {amount} a bar{scrape}", ": aprox. {amount} por pastilla{scrape}"),
    "pour.scrape": ("; scrape back into the pot until {amount} stays",
                    "; devolver al recipiente con la espátula hasta que queden {amount}"),
    # Waits that a write-up says in the usual words; other words of the maker stand as written.
    "wait.rest": ("Rest {time}.", "Dejar reposar {time}."),
    "wait.rest.at": ("Rest {time} at {temperature}.", "Dejar reposar {time} a {temperature}."),
    "wait.chill": ("Chill {time}.", "Enfriar {time}."),
    "wait.chill.at": ("Chill {time} at {temperature}.", "Enfriar {time} a {temperature}."),
    "wait.unmould": ("Unmould after {time}.", "Desmoldar después de {time}."),
    "wait.unmould.at": ("Unmould after {time} at {temperature}.",
                        "Desmoldar después de {time} a {temperature}."),
    # What to watch for.
    "mend.yes": ("Mend:", "Remedio:"),
    "mend.no": ("Tried, not mended:", "Probado, sin éxito:"),
    "mend.try": ("To try:", "Por probar:"),
    "symptom.lip": ("lip", "reborde"),
    "symptom.bleed": ("bleed", "sangrado del color"),
    "symptom.run": ("run", "color corrido"),
    "symptom.lifted": ("lifted", "relieve arrancado"),
    "symptom.floated": ("floated", "pieza levantada"),
    "symptom.bubbles": ("bubbles", "burbujas"),
    "symptom.remelted": ("remelted", "relieve refundido"),
    "symptom.separated": ("separated", "capas separadas"),
    "symptom.sweating": ("sweating", "sudoración"),
    "symptom.soft": ("soft", "blando"),
    "symptom.cracked": ("cracked", "agrietado"),
    "symptom.torn": ("torn", "relieve roto"),
    "symptom.cloudy": ("cloudy", "turbio"),
    "symptom.faded": ("faded", "color desvaído"),
    "symptom.speckling": ("speckling", "motas"),
    "symptom.uneven": ("uneven", "desnivelado"),
    "symptom.faint scent": ("faint scent", "aroma débil"),
    "symptom.other": ("other", "otro"),
    # Cautions, and lines to write on.
    "care.heat": ("Hot base burns: gloves, sleeves; a burn goes under running water for"
                  " 20\u00a0min.",
                  "La base caliente quema: guantes, mangas; una quemadura va bajo agua corriente"
                  " 20\u00a0min."),
    "care.alcohol": ("Alcohol mist catches fire: no flame, no hot plate near.",
                     "La niebla de alcohol se inflama: sin llama ni placa caliente cerca."),
    "care.blade": ("Blade away from the hand.", "La hoja, alejándose de la mano."),
    "care.oil": ("No more oil than this: over its limit it hurts skin.",
                 "No más fragancia que esta: por encima de su límite daña la piel."),
    "care.law": ("Local rules come first.", "Las normas locales van primero."),
    "care.unchecked": ("", "Traducción pendiente de revisar por un hablante nativo."),
    "line.date": ("date", "fecha"),
    "line.by": ("by", "por"),
    "line.lot": ("lot", "lote"),
    "line.start": ("{pot} start\u00a0{scale}", "{pot} inicio\u00a0{scale}"),
    "line.pour": ("{layer} pour\u00a0{scale}", "{layer} vertido\u00a0{scale}"),
    "line.result": ("result", "resultado"),
    # The page of cautions.
    "safety.language": ("", "En español"),
    "safety.lead": ("Before the first pour of the day, and for everybody who helps.",
                    "Antes del primer vertido del día, y para todas las personas que ayudan."),
    "safety.heat": ("Hot base", "Base caliente"),
    "safety.heat.1": ("Long sleeves, closed shoes, gloves that keep heat out; eyes covered.",
                      "Manga larga, calzado cerrado, guantes que aíslen del calor; ojos"
                      " protegidos."),
    "safety.heat.2": ("No children or animals near while anything is hot.",
                      "Ni niños ni animales cerca mientras haya algo caliente."),
    "safety.heat.3": ("Melt gently and covered; never leave the pot alone.",
                      "Fundir despacio y tapado; no dejar nunca el recipiente sin vigilar."),
    "safety.heat.4": ("Base sticks to the skin and goes on burning. Cool running water at once,"
                      " for twenty minutes; then a doctor for anything larger than a coin.",
                      "La base se pega a la piel y sigue quemando. Agua corriente fresca de"
                      " inmediato, durante veinte minutos; después, un médico si la quemadura es"
                      " mayor que una moneda."),
    "safety.alcohol": ("Alcohol mist", "Niebla de alcohol"),
    "safety.alcohol.1": ("Rubbing alcohol gives off a vapour that catches fire below room"
                         " temperature. Spritz with no flame, hot plate, heat gun or spark within"
                         " reach.",
                         "El alcohol isopropílico desprende un vapor que se inflama por debajo de"
                         " la temperatura ambiente. Rociar sin llama, placa caliente, pistola de"
                         " calor ni chispa al alcance."),
    "safety.alcohol.2": ("Switch the hot plate off and move the pot away from it before you"
                         " spritz. Keep the bottle away from both.",
                         "Apagar la placa y apartar de ella el recipiente antes de rociar."
                         " Mantener el frasco lejos de ambos."),
    "safety.alcohol.3": ("Air the room. Do not breathe the mist; keep it out of eyes.",
                         "Ventilar el cuarto. No respirar la niebla; que no llegue a los ojos."),
    "safety.blades": ("Blades", "Cuchillas"),
    "safety.blades.1": ("Cut mats on a board, the blade away from the hand.",
                        "Cortar los tapetes sobre una tabla, con la hoja alejándose de la mano."),
    "safety.blades.2": ("A dull blade slips: change it.", "Una hoja sin filo resbala: cambiarla."),
    "safety.blades.3": ("Put the blade down before you lift the mat.",
                        "Dejar la cuchilla antes de levantar el tapete."),
    "safety.skin": ("On the skin", "En la piel"),
    "safety.limit": ("A fragrance has a largest share for a rinse-off product, on its supplier's"
                     " certificate. The notebook works it out for every layer and refuses a recipe"
                     " over it. {how}.",
                     "Una fragancia tiene una proporción máxima para un producto que se enjuaga,"
                     " en el certificado de su proveedor. El cuaderno la calcula para cada capa y"
                     " rechaza una receta que la supere. {how}."),
    "safety.how": ("How it is made", "Cómo se calcula"),
    "safety.skin.1": ("Use the certificate for the lot in hand, and mind its date.",
                      "Usar el certificado del lote que se tiene en la mano, y mirar su fecha."),
    "safety.skin.2": ("Use colourants that are allowed in soap where you sell.",
                      "Usar colorantes que estén permitidos en jabón donde se venda."),
    "safety.skin.3": ("Undiluted oils: gloves, and wash off spills at once.",
                      "Fragancias sin diluir: guantes, y lavar enseguida las salpicaduras."),
    "safety.law": ("What the law asks", "Lo que pide la ley"),
    "safety.law.1": ("Labels, net weights and ingredient lists in this notebook are drafts. Rules"
                     " differ from place to place and change: check them where you sell, and ask a"
                     " licensed professional about claims and about safety assessments.",
                     "Las etiquetas, los pesos netos y las listas de ingredientes de este cuaderno"
                     " son borradores. Las normas son distintas en cada lugar y cambian:"
                     " comprobarlas donde se venda, y consultar con un profesional autorizado las"
                     " declaraciones y la evaluación de seguridad."),
    "safety.burns": ("How long hot water takes to burn badly",
                     "Cuánto tarda el agua caliente en quemar gravemente"),
    "safety.burns.at": ("At", "A"),
    "safety.burns.takes": ("It takes", "Tarda"),
    "safety.burns.120": ("more than 5 minutes", "más de 5 minutos"),
    "safety.burns.130": ("30 seconds", "30 segundos"),
    "safety.burns.140": ("less than 5 seconds", "menos de 5 segundos"),
    "safety.burns.150": ("1.5 seconds", "1.5 segundos"),
    "safety.burns.155": ("1 second", "1 segundo"),
    "safety.burns.from": ("A burns institute's table for hot water, as quoted on public pages."
                          " Molten base sticks, so it is no slower.",
                          "Tabla de un instituto de quemados para agua caliente, según se cita en"
                          " páginas públicas. La base fundida se pega, así que no tarda más."),
    "safety.flash": ("or {other}: flash point of isopropyl alcohol (NIOSH Pocket Guide).",
                     "o {other}: punto de inflamación del alcohol isopropílico (NIOSH Pocket"
                     " Guide)."),
}
# fmt: on

_PLACE: Final = re.compile(r"\{(\w+)\}")


class Catalogue(Struct, frozen=True):
    """The phrases in one language."""

    language: Language = "en"

    def text(self, phrase: str, **values: object) -> str:
        """A phrase as plain text.

        Takes:  phrase  a key of ``PHRASES``
                values  what stands in its places, each by its name
        Gives:  the text
        Fails:  KeyError for a phrase that there is not, or a place that is left open
        """
        parts = _parts(phrase, self.language)
        if len(parts) == 1:
            return parts[0]
        return "".join(
            [str(values[part]) if number % 2 else part for number, part in enumerate(parts)]
        )

    def words(self, phrase: str, **values: Word | CardWords) -> CardWords:
        """A phrase as words, of which some have a weight or a figure of their own.

        Takes:  phrase  a key of ``PHRASES``
                values  a word, or several, for each of its places
        Gives:  the words in the language's order; texts that meet are one
        Fails:  as ``text``
        """
        parts = _parts(phrase, self.language)
        found: list[Word] = []
        for number, part in enumerate(parts):
            value = values[part] if number % 2 else part
            for word in (value,) if isinstance(value, str | Span | Amount) else value:
                if isinstance(word, str) and found and isinstance(found[-1], str):
                    found[-1] += word
                elif word:
                    found.append(word)
        return tuple(found)

    def several(self, number: int, phrase: str, **values: object) -> str:
        """A phrase that is said otherwise of one: ``phrase.one`` or ``phrase.more``."""
        return self.text(f"{phrase}.{'one' if number == 1 else 'more'}", n=number, **values)

    def bars(self, number: int) -> str:
        """``6 bars``, on one line."""
        return self.several(number, "bars")

    def points(self, phrase: str) -> Iterator[str]:
        """The phrases ``phrase.1``, ``phrase.2`` and so on."""
        number = 1
        while f"{phrase}.{number}" in PHRASES:
            yield self.text(f"{phrase}.{number}")
            number += 1

    def symptom(self, what: str) -> str:
        """A symptom: a built-in one in this language, the studio's own as it is written."""
        return self.text(f"symptom.{what}") if f"symptom.{what}" in PHRASES else what

    def units(self, shown: str) -> str:
        """A shown figure, its unit in this language; symbols are the same in all."""
        number, space, unit = shown.rpartition("\u00a0")
        if f"unit.{unit}" in PHRASES:
            return number + space + self.text(f"unit.{unit}")
        return shown

    def listed(self, names: tuple[str, ...]) -> str:
        """``a``, ``a and b``, ``a, b and c``."""
        if len(names) < 2:
            return "".join(names)
        return self.text("and", names=", ".join(names[:-1]), last=names[-1])


@lru_cache(maxsize=1024)
def _parts(phrase: str, language: Language) -> tuple[str, ...]:
    """A phrase taken apart: its text, and at every second place the name of what stands there."""
    return tuple(_PLACE.split(PHRASES[phrase][LANGUAGES.index(language)]))


ENGLISH: Final = Catalogue("en")


def catalogue_of(language: str) -> Catalogue:
    """The phrases in a language of ``LANGUAGES``; ValueError for another."""
    return Catalogue(LANGUAGES[LANGUAGES.index(language)])
