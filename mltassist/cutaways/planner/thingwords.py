"""Words by which things are known: what stands before nouns, small things, and nouns of nothing to be seen.

From memory; of closed classes any grammar lists them. Codes are those of ISO 639-1.
"""

from __future__ import annotations


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


BEFORE_NOUNS = {
    "en": _words(
        """
        the a an my your his its our their every each another no of with without from into onto behind two
        three four five six seven eight nine ten eleven twelve twenty thirty forty fifty hundred thousand
        """
    ),
    "de": _words(
        """
        dem des ein eine einen einem einer eines mein meine meinen meinem meiner unser unsere unseren
        unserem unserer kein keine keinen im am zum zur vom beim
        """
    ),
    "fr": _words(
        """
        le la les un une des du au aux mon ma mes ton ta tes son sa ses notre nos votre vos leur leurs ce
        cet cette ces chaque quelques deux trois quatre cinq six sept huit dix cent
        """
    ),
    "es": _words(
        """
        el la los las un una unos unas al del mi mis tu tus su sus nuestro nuestra nuestros nuestras este
        esta estos estas cada otro otra dos tres cuatro cinco seis siete ocho diez cien
        """
    ),
    "it": _words(
        """
        il lo la i gli le un uno una del dello della dei degli delle al allo alla ai agli alle nel nella
        nei nelle sul sulla sui dal dalla mio mia miei mie nostro nostra ogni due tre quattro cinque
        """
    ),
    "pt": _words(
        """
        o a os as um uma uns umas do da dos das no na nos nas ao aos pelo pela meu minha meus minhas nosso
        nossa cada outro outra dois duas três quatro cinco
        """
    ),
    "nl": _words(
        """
        de een mijn jouw onze ons elke iedere geen twee drie vier vijf
        """
    ),
    "ca": _words(
        """
        el la els les un una uns unes del dels al als meu meva cada dos tres
        """
    ),
}
"""Articles, possessives, numbers and prepositions after which mostly nouns follow."""

BEFORE_OBJECTS = {
    "fr": _words(
        """
        je tu il elle on nous vous ils elles qui ne me te se y en
        """
    ),
    "es": _words(
        """
        yo tú él ella no se me te que ya lo
        """
    ),
    "it": _words(
        """
        io tu lui lei non si mi ti che
        """
    ),
    "pt": _words(
        """
        eu tu ele ela não que se
        """
    ),
    "ca": _words(
        """
        jo tu ell ella no es em que
        """
    ),
}
"""After these "la" and "los" are no articles but the object of a verb that follows."""

BETWEEN = _words(
    """
    same other own whole first second last next old new little big good great young long best petit petite
    petits petites grand grande grands grandes vieux vieille bon bonne beau belle premier première dernier
    dernière même autre autres nouveau nouvelle gran viejo vieja primer primera último última mismo misma
    buen buena pequeño pequeña nuevo nueva grande piccolo piccola vecchio vecchia primo prima ultimo
    ultima stesso stessa nuovo nuova velho velha pequeno pequena mesmo mesma novo nova oude nieuwe grote
    kleine eerste laatste zelfde hele
    """
)
"""May stand between an article and its noun, and are none themselves."""

NOT_SEEN = _words(
    """
    thing time year month week day hour minute second moment way kind sort lot part piece bit place point
    reason idea question answer problem story word name end beginning start fact case course number half
    rest matter life world people somebody someone anybody nobody everybody everyone something nothing
    anything everything ding sache zeit jahr monat woche tag stunde minute moment art weise teil stück ort
    punkt grund idee frage antwort problem geschichte wort name ende anfang fall zahl hälfte leben welt
    leute mensch mal beispiel chose fois temps année an mois semaine jour heure moment façon sorte partie
    peu endroit point raison idée question réponse problème histoire mot nom fin début fait cas nombre
    moitié vie monde gens cosa vez tiempo año mes semana día hora minuto momento manera tipo parte lugar
    punto razón idea pregunta respuesta problema historia palabra nombre final principio hecho caso número
    mitad vida mundo gente volta tempo anno mese settimana giorno ora modo tipo posto punto ragione
    domanda risposta storia parola nome fine inizio fatto numero metà vita mondo
    """
)
"""Nouns of nothing that can be filmed for itself, in five languages."""

SMALL = {
    "en": _words(
        """
        page ledger book notebook letter paper map photo photograph key knife spoon fork pen pencil brush
        ring coin stamp button needle thread knot rope chain bolt screw nail hammer cup glass bottle plate
        bread egg seed grain leaf flower insect bee butterfly hand finger fist eye ear mouth shoe boot
        glove hat clock watch dial switch handle lock lamp lantern candle label sign screen phone radio
        """
    ),
    "de": _words(
        """
        seite buch heft brief papier karte foto schlüssel messer löffel gabel stift pinsel ring münze
        knopf nadel faden knoten seil kette schraube nagel hammer tasse glas flasche teller brot ei samen
        korn blatt blüte insekt biene hand finger faust auge ohr mund schuh stiefel handschuh hut uhr
        schalter griff schloss lampe laterne kerze schild bildschirm telefon
        """
    ),
    "fr": _words(
        """
        page registre livre cahier lettre papier carte photo clé couteau cuillère fourchette stylo crayon
        pinceau bague pièce bouton aiguille fil noeud nœud corde chaîne vis clou marteau tasse verre
        bouteille assiette pain oeuf œuf graine feuille fleur insecte abeille main doigt poing oeil œil
        yeux oreille bouche chaussure botte gant chapeau horloge montre poignée serrure lampe lanterne
        bougie étiquette écran téléphone
        """
    ),
    "es": _words(
        """
        página registro libro cuaderno carta papel mapa foto llave cuchillo cuchara tenedor pluma lápiz
        pincel anillo moneda botón aguja hilo nudo cuerda cadena tornillo clavo martillo taza vaso botella
        plato pan huevo semilla grano hoja flor insecto abeja mano dedo puño ojo oreja boca zapato bota
        guante sombrero reloj manija cerradura lámpara linterna vela etiqueta pantalla teléfono
        """
    ),
    "it": _words(
        """
        pagina registro libro quaderno lettera carta mappa foto chiave coltello cucchiaio forchetta penna
        matita pennello anello moneta bottone ago filo nodo corda catena vite chiodo martello tazza
        bicchiere bottiglia piatto pane uovo seme grano foglia fiore insetto ape mano mani dito dita
        occhio orecchio bocca scarpa stivale guanto cappello orologio maniglia serratura lampada lanterna
        candela etichetta schermo telefono
        """
    ),
}
"""Things that fill a picture only from near by: nobody asks for a wide shot of a page."""
